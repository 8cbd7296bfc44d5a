//! Reading of `samples.csv`: what is accepted, and every refusal with its whole message.

use super::read;
use crate::recording::FlowColumn;
use crate::recording::fault::FileFaults;

#[track_caller]
fn check_refused(text: &[u8], message: &str) {
    let faults = read(text).expect_err("must be refused");
    let file = "samples.csv".to_owned();
    assert_eq!(FileFaults { file, faults }.to_string(), message);
}

#[test]
fn columns_come_in_any_order_and_in_si() {
    let table =
        read(b"rh_pct,flow_pulses,pressure_bar,t_s,material_c\n55,0,61.5,0.0,20\n,3,,0.1,\n")
            .unwrap();
    assert_eq!(table.t_s, [0.0, 0.1]);
    assert_eq!(table.pressure_pa[0], 6.15e6);
    assert!(
        table.pressure_pa[1].is_nan(),
        "an empty cell was not sampled"
    );
    assert_eq!(table.flow, FlowColumn::Pulses(vec![Some(0), Some(3)]));
    assert_eq!(table.slow.rh_ratio.value, [0.55]);
    assert_eq!(table.slow.material_k.t_s, [0.0]);
    assert_eq!(table.slow.material_k.value, [293.15]);
    assert!(table.pulse_t_s.is_empty() && table.extra.is_empty());
}

#[test]
fn byte_order_mark_crlf_quotes_blanks_and_spaces_change_nothing() {
    let plain = read(b"t_s,pressure_bar,flow_l_min\n0,1,2.5\n1,2,3\n").unwrap();
    let dressed =
        read(b"\xef\xbb\xbf\"t_s\", pressure_bar ,flow_l_min\r\n\r\n0,\"1\",2.5\r\n ,, \r\n1, 2,3")
            .unwrap();
    assert_eq!(plain, dressed);
}

#[test]
fn unknown_columns_are_passed_through_as_text() {
    let table = read(b"t_s,note,pressure_bar,flow_pulses,flow_l_min\n0,\"a,b\",1,2,0.5\n").unwrap();
    let expected = [("note", "a,b"), ("flow_l_min", "0.5")]
        .map(|(name, cell)| (name.to_owned(), vec![cell.to_owned()]));
    assert_eq!(table.extra, expected);
}

#[test]
fn an_unreadable_number_is_named_with_line_and_column() {
    check_refused(
        b"t_s,pressure_bar,flow_pulses\r\n0,1,0\r\n1,\"61,5\",0\r\n",
        "samples.csv, line 3, column pressure_bar: \"61,5\" is not a number (the decimal sign is \".\")",
    );
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n0,NaN,0\n",
        "samples.csv, line 2, column pressure_bar: \"NaN\" is not a number (the decimal sign is \".\")",
    );
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n0,1,-2\n",
        "samples.csv, line 2, column flow_pulses: \"-2\" is not a whole number from 0 to 4294967295",
    );
}

#[test]
fn all_faults_are_told_at_once() {
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n0,x,0\n,1,y\n\n2,1\n",
        "samples.csv, line 2, column pressure_bar: \"x\" is not a number (the decimal sign is \".\")\n\
         samples.csv, line 3, column t_s: empty, every row needs it\n\
         samples.csv, line 3, column flow_pulses: \"y\" is not a whole number from 0 to 4294967295\n\
         samples.csv, line 5: 2 cells, the header has 3",
    );
    let many = format!("t_s,pressure_bar,flow_pulses\n{}", "1,x,0\n".repeat(30));
    let faults = read(many.as_bytes()).unwrap_err();
    assert_eq!(
        (faults.list.len(), faults.n_more, faults.count()),
        (20, 39, 59)
    );
}

#[test]
fn time_that_does_not_rise_is_refused() {
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n12.6,1,0\n12.5,1,0\n",
        "samples.csv, line 3, column t_s: 12.5 s does not follow 12.6 s: time must rise from row to row",
    );
    check_refused(
        b"t_s,pressure_bar,flow_pulses,pulse_t_s\n1,1,1,0.9\n2,1,1,0.8\n3,1,1,3.5\n",
        "samples.csv, line 3, column pulse_t_s: 0.8 s follows 0.9 s: time runs backwards\n\
         samples.csv, line 4, column pulse_t_s: 3.5 s is later than the row itself (3 s)",
    );
}

#[test]
fn a_missing_or_doubled_column_is_named_with_what_there_is() {
    check_refused(
        b"t_s,pressure_psi\n0,1\n",
        "samples.csv, line 1: column pressure_bar is missing (found: t_s, pressure_psi)\n\
         samples.csv, line 1: column flow_pulses or flow_l_min is missing (found: t_s, pressure_psi)",
    );
    check_refused(
        b"t_s,pressure_bar,flow_pulses,t_s\n0,1,0,0\n",
        "samples.csv, line 1: column t_s stands twice in the header",
    );
}

#[test]
fn empty_and_foreign_files_are_refused() {
    check_refused(b"", "samples.csv: empty");
    check_refused(b" \r\n", "samples.csv: empty");
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n",
        "samples.csv: no row below the header",
    );
    check_refused(b"\xff\xfet\0", "samples.csv: UTF-16 text, UTF-8 is needed");
    check_refused(
        b"t_s\nPK\x03\x04\0",
        "samples.csv, line 2: byte 8 is not UTF-8 text",
    );
    check_refused(
        b"\x89PNG\r\n",
        "samples.csv, line 1: byte 0 is not UTF-8 text",
    );
    check_refused(
        b"t_s,pressure_bar,flow_pulses\n0,1,0\n1,\"2,0\n2,3,0\n",
        "samples.csv, line 3: the quotation mark is never closed",
    );
}
