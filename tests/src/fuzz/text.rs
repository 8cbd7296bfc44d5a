//! Bytes into the readers of the text files: a typed fault, or values that are written and read again as the same.

use tipcurve::recording::{Data, FlowColumn, notes, samples, settings};

/// `notes.csv`.
pub fn check_notes(data: &[u8]) {
    let Ok(read) = notes::read(data) else { return };
    let text = notes::write(&read, 0.0);
    let again = notes::read(text.as_bytes());
    let again = again.unwrap_or_else(|fault| panic!("{fault:?} in {text:?}"));
    assert_eq!(again.len(), read.len(), "{text:?}");
    for (again, read) in again.iter().zip(&read) {
        assert_eq!(again.tip, read.tip);
        assert_eq!(again.tails, read.tails);
        assert_eq!(again.text, read.text);
        assert_eq!(again.event, read.event);
    }
    let _ = notes::in_force(&read);
}

/// `samples.csv`.
pub fn check_samples(data: &[u8]) {
    let Ok(table) = samples::read(data) else {
        return;
    };
    let n = table.t_s.len();
    assert_eq!(table.pressure_pa.len(), n);
    let n_flow = match &table.flow {
        FlowColumn::Pulses(counts) => counts.len(),
        FlowColumn::Rate(rates) => rates.len(),
    };
    assert_eq!(n_flow, n);
    assert!(table.t_s.iter().all(|t_s| t_s.is_finite()));
    assert!(table.t_s.windows(2).all(|pair| pair[0] < pair[1]));
    let mut text = Vec::new();
    samples::write(&Data::Samples(table.clone()), &mut text).expect("memory takes it");
    let again = samples::read(&text);
    let again = again.unwrap_or_else(|faults| {
        panic!("{faults:?} in {:?}", String::from_utf8_lossy(&text));
    });
    assert_eq!(again.t_s, table.t_s);
    assert_eq!(again.extra, table.extra);
}

/// `session.toml`.
pub fn check_session(data: &[u8]) {
    let Ok(read) = settings::read(data) else {
        return;
    };
    let text = settings::write(&read);
    let again = settings::read(text.as_bytes());
    let again = again.unwrap_or_else(|faults| panic!("{faults:?} in {text}"));
    assert_eq!(again.materials.len(), read.materials.len(), "{text}");
    assert_eq!(again.tips.len(), read.tips.len(), "{text}");
    assert_eq!(again.rig, read.rig, "{text}");
}
