//! Requests of the calibration dialog to answers.

use serde::{Deserialize, Serialize};

use super::{Answer, Call, Content, Site, no_such, refuse};
use crate::calibrate::CalibrateError;
use crate::calibrate::entries::Entries;
use crate::live::hub::Hub;

/// Means are taken over this long, s.
const MEAN_S: (f64, f64) = (1.0, 20.0);

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Mean {
    seconds: f64,
}

/// Answers `/api/calibrate/...`; the right to write has been checked.
pub(super) fn answer(site: &Site, call: &Call<'_>) -> Answer {
    let Content::Bench {
        calibration, hub, ..
    } = &site.content
    else {
        return no_such();
    };
    let readings = &calibration.readings;
    match call.path {
        "/api/calibrate/mean" => match serde_json::from_slice::<Mean>(call.body) {
            Ok(mean) if (MEAN_S.0..=MEAN_S.1).contains(&mean.seconds) => {
                shown(readings.rest_mean(mean.seconds), 409)
            }
            _ => refuse(400, "a time from 1 to 20 seconds is expected"),
        },
        "/api/calibrate/start" => {
            let begun = readings.start_catch();
            shown(begun.map(|()| serde_json::json!({})), 409)
        }
        "/api/calibrate/stop" => shown(readings.stop_catch(), 409),
        "/api/calibrate/write" => match serde_json::from_slice::<Entries>(call.body) {
            Ok(entries) => match calibration.write(&entries, device_id(hub), call.now_unix_s) {
                Err(error @ CalibrateError::File { .. }) => refuse(507, &error.to_string()),
                written => shown(written, 400),
            },
            Err(error) => refuse(400, &format!("{error}; nothing was written")),
        },
        _ => no_such(),
    }
}

/// The logger of the recording, as its recorder names it.
fn device_id(hub: &Hub) -> Option<u64> {
    u64::from_str_radix(&hub.snapshot().recorder.device?, 16).ok()
}

fn shown<T: Serialize, E: std::fmt::Display>(outcome: Result<T, E>, status: u16) -> Answer {
    match outcome.map(|value| serde_json::to_string(&value)) {
        Ok(Ok(text)) => Answer::Json(200, text),
        Ok(Err(error)) => refuse(500, &error.to_string()),
        Err(error) => refuse(status, &error.to_string()),
    }
}
