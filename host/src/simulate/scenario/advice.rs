//! Advice that helps and advice that harms, for each kind of trial: the words of the truth files.
//!
//! They follow from what each limit is (see the table of limits in the report's wording): thinning
//! helps an atomisation limit and ruins an application limit, a smaller tip helps a supply limit and
//! ruins an atomisation limit, and no limit is met by going above a rating.

/// Advice words that may and may not be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AdviceWords {
    /// May be given.
    pub allowed: &'static [&'static str],
    /// May not be given.
    pub forbidden: &'static [&'static str],
}

/// No tails, but the coat runs.
pub const APPLICATION: AdviceWords = AdviceWords {
    allowed: &["smaller_tip", "wider_fan", "faster_pass", "less_thinner"],
    forbidden: &[
        "larger_tip",
        "thin_material",
        "raise_pressure",
        "narrower_fan",
        "larger_orifice_same_fan",
        "larger_pump",
    ],
};

/// Pressure holds, tails remain.
pub const ATOMISATION: AdviceWords = AdviceWords {
    allowed: &[
        "thin_material",
        "warm_material",
        "narrower_fan",
        "larger_orifice_same_fan",
        "larger_pump",
    ],
    forbidden: &[
        "smaller_orifice_same_fan",
        "wider_fan",
        "lower_pressure",
        "raise_pressure",
        "charge_battery",
        "clean_inlet_strainer",
    ],
};

/// The coating is cold.
pub const COLD: AdviceWords = AdviceWords {
    allowed: &["warm_material", "thin_material"],
    forbidden: &[
        "replace_tip",
        "clean_tip",
        "charge_battery",
        "smaller_orifice_same_fan",
        "clean_inlet_strainer",
    ],
};

/// The window is open.
pub const HEALTHY: AdviceWords = AdviceWords {
    allowed: &["keep", "lower_pressure"],
    forbidden: &[
        "replace_tip",
        "clean_tip",
        "larger_pump",
        "charge_battery",
        "clean_inlet_strainer",
    ],
};

/// The data carry no answer: only the missing measurement may be asked for.
pub const INSUFFICIENT: AdviceWords = AdviceWords {
    allowed: &[
        "collect_more_data",
        "check_sensor",
        "check_units",
        "fix_notes",
    ],
    forbidden: &[
        "charge_battery",
        "clean_inlet_strainer",
        "clean_tip",
        "faster_pass",
        "larger_orifice_same_fan",
        "larger_pump",
        "larger_tip",
        "less_thinner",
        "lower_pressure",
        "narrower_fan",
        "raise_pressure",
        "replace_tip",
        "smaller_orifice_same_fan",
        "smaller_tip",
        "strain_material",
        "thin_material",
        "warm_material",
        "wider_fan",
    ],
};

/// A tip is to be predicted that the rig holds.
pub const PREDICTION: AdviceWords = AdviceWords {
    allowed: &["keep", "smaller_tip", "larger_pump"],
    forbidden: &[],
};

/// A tip is to be predicted on a rig that sags already.
pub const PREDICTION_OF_SAG: AdviceWords = AdviceWords {
    forbidden: &["larger_tip"],
    ..PREDICTION
};

/// The inlet has become narrow.
pub const INLET: AdviceWords = AdviceWords {
    allowed: &["clean_inlet_strainer", "strain_material"],
    forbidden: &[
        "clean_tip",
        "replace_tip",
        "larger_tip",
        "larger_orifice_same_fan",
        "charge_battery",
    ],
};

/// The tip or its filter has become narrow.
pub const BLOCKED_TIP: AdviceWords = AdviceWords {
    allowed: &["clean_tip", "strain_material"],
    forbidden: &[
        "larger_pump",
        "charge_battery",
        "clean_inlet_strainer",
        "smaller_tip",
        "smaller_orifice_same_fan",
    ],
};

/// Pressure sags as flow rises, tails remain.
pub const SUPPLY: AdviceWords = AdviceWords {
    allowed: &[
        "smaller_tip",
        "larger_pump",
        "thin_material",
        "warm_material",
    ],
    forbidden: &[
        "larger_tip",
        "larger_orifice_same_fan",
        "raise_pressure",
        "replace_tip",
        "clean_tip",
    ],
};

/// The battery is weak.
pub const BATTERY: AdviceWords = AdviceWords {
    allowed: &["charge_battery"],
    forbidden: &[
        "larger_tip",
        "larger_orifice_same_fan",
        "replace_tip",
        "clean_tip",
        "clean_inlet_strainer",
    ],
};

/// The tip is worn.
pub const WORN: AdviceWords = AdviceWords {
    allowed: &["replace_tip", "smaller_tip"],
    forbidden: &[
        "clean_tip",
        "larger_tip",
        "larger_orifice_same_fan",
        "larger_pump",
    ],
};
