//! The units of each quantity, how they are spelled and what they are worth.

/// kPa in one psi: pound-force over square inch (exact definitions of 1959).
const KPA_PER_PSI: f64 = 6.894_757_293_168_361;
/// mL in one US gallon: 231 cubic inches (exact).
const ML_PER_US_GALLON: f64 = 3_785.411_784;
/// mL in one imperial gallon (exact).
const ML_PER_IMPERIAL_GALLON: f64 = 4546.09;

/// A unit of one quantity, with the quantity's base unit behind it.
pub trait Unit: Copy + PartialEq + Sized + 'static {
    /// What is measured: "pressure".
    const QUANTITY: &'static str;
    /// What a text could look like.
    const EXAMPLE: &'static str;
    /// All units, the commonest first.
    const ALL: &'static [Self];

    /// The value in the base unit.
    fn to_base(self, value: f64) -> f64;

    /// The value in this unit.
    fn of_base(self, base: f64) -> f64;

    /// Its name after a value: `2 US pints`, but `1 US pint`.
    fn name(self, one: bool) -> &'static str;

    /// Other spellings that are understood, in small letters.
    fn spellings(self) -> &'static [&'static str];

    /// Why a value in the base unit cannot be, if it can't.
    fn impossible(base: f64) -> Option<&'static str>;
}

/// Pressure above the atmosphere; base unit kPa.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureUnit {
    /// Kilopascals.
    KiloPascal,
    /// Bar.
    Bar,
    /// Pounds per square inch.
    Psi,
}

impl Unit for PressureUnit {
    const QUANTITY: &'static str = "pressure";
    const EXAMPLE: &'static str = "15 psi";
    const ALL: &'static [Self] = &[Self::Psi, Self::KiloPascal, Self::Bar];

    fn to_base(self, value: f64) -> f64 {
        match self {
            Self::KiloPascal => value,
            Self::Bar => value * 100.0,
            Self::Psi => value * KPA_PER_PSI,
        }
    }

    fn of_base(self, base: f64) -> f64 {
        match self {
            Self::KiloPascal => base,
            Self::Bar => base / 100.0,
            Self::Psi => base / KPA_PER_PSI,
        }
    }

    fn name(self, _one: bool) -> &'static str {
        match self {
            Self::KiloPascal => "kPa",
            Self::Bar => "bar",
            Self::Psi => "psi",
        }
    }

    fn spellings(self) -> &'static [&'static str] {
        match self {
            Self::KiloPascal => &["kpa", "kilopascal", "kilopascals"],
            Self::Bar => &["bar", "bars"],
            Self::Psi => &["psi", "psig", "lb/in2", "lb/in²"],
        }
    }

    fn impossible(base: f64) -> Option<&'static str> {
        (base <= -101.325)
            .then_some("nothing lies below an absolute vacuum (-101.3 kPa, -14.7 psi)")
    }
}

/// Temperature; base unit °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Unit for TemperatureUnit {
    const QUANTITY: &'static str = "temperature";
    const EXAMPLE: &'static str = "20 °C";
    const ALL: &'static [Self] = &[Self::Celsius, Self::Fahrenheit];

    fn to_base(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value,
            Self::Fahrenheit => (value - 32.0) / 1.8,
        }
    }

    fn of_base(self, base: f64) -> f64 {
        match self {
            Self::Celsius => base,
            Self::Fahrenheit => base * 1.8 + 32.0,
        }
    }

    fn name(self, _one: bool) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }

    fn spellings(self) -> &'static [&'static str] {
        match self {
            Self::Celsius => &["°c", "c", "degc", "deg c", "celsius", "degrees c"],
            Self::Fahrenheit => &["°f", "f", "degf", "deg f", "fahrenheit", "degrees f"],
        }
    }

    fn impossible(base: f64) -> Option<&'static str> {
        (base < -273.15).then_some("nothing is colder than -273.15 °C (-459.67 °F)")
    }
}

/// Volume; base unit mL.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VolumeUnit {
    /// Millilitres.
    Millilitre,
    /// Litres.
    Litre,
    /// US liquid pints.
    UsPint,
    /// Imperial pints.
    ImperialPint,
    /// US gallons.
    UsGallon,
    /// Imperial gallons.
    ImperialGallon,
}

impl VolumeUnit {
    fn millilitres(self) -> f64 {
        match self {
            Self::Millilitre => 1.0,
            Self::Litre => 1000.0,
            Self::UsPint => ML_PER_US_GALLON / 8.0,
            Self::ImperialPint => ML_PER_IMPERIAL_GALLON / 8.0,
            Self::UsGallon => ML_PER_US_GALLON,
            Self::ImperialGallon => ML_PER_IMPERIAL_GALLON,
        }
    }
}

impl Unit for VolumeUnit {
    const QUANTITY: &'static str = "volume";
    const EXAMPLE: &'static str = "1.5 L";
    const ALL: &'static [Self] = &[
        Self::Millilitre,
        Self::Litre,
        Self::UsPint,
        Self::ImperialPint,
        Self::UsGallon,
        Self::ImperialGallon,
    ];

    fn to_base(self, value: f64) -> f64 {
        value * self.millilitres()
    }

    fn of_base(self, base: f64) -> f64 {
        base / self.millilitres()
    }

    fn name(self, one: bool) -> &'static str {
        match (self, one) {
            (Self::Millilitre, _) => "mL",
            (Self::Litre, _) => "L",
            (Self::UsPint, true) => "US pint",
            (Self::UsPint, false) => "US pints",
            (Self::ImperialPint, true) => "imperial pint",
            (Self::ImperialPint, false) => "imperial pints",
            (Self::UsGallon, true) => "US gallon",
            (Self::UsGallon, false) => "US gallons",
            (Self::ImperialGallon, true) => "imperial gallon",
            (Self::ImperialGallon, false) => "imperial gallons",
        }
    }

    fn spellings(self) -> &'static [&'static str] {
        match self {
            Self::Millilitre => &[
                "ml",
                "millilitre",
                "millilitres",
                "milliliter",
                "milliliters",
                "cm3",
                "cm³",
                "cc",
            ],
            Self::Litre => &["l", "litre", "litres", "liter", "liters"],
            Self::UsPint => &["us pint", "us pints", "us pt"],
            Self::ImperialPint => &[
                "imperial pint",
                "imperial pints",
                "imp pint",
                "imp pints",
                "imp pt",
            ],
            Self::UsGallon => &["us gallon", "us gallons", "us gal"],
            Self::ImperialGallon => &[
                "imperial gallon",
                "imperial gallons",
                "imp gallon",
                "imp gallons",
                "imp gal",
            ],
        }
    }

    fn impossible(base: f64) -> Option<&'static str> {
        (base < 0.0).then_some("a volume is not negative")
    }
}

/// What a rate is counted over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeUnit {
    /// A minute.
    Minute,
    /// An hour.
    Hour,
    /// A day of 24 hours.
    Day,
    /// A week of seven days.
    Week,
}

impl TimeUnit {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Minute, Self::Hour, Self::Day, Self::Week];

    /// How many minutes it has.
    pub fn minutes(self) -> f64 {
        match self {
            Self::Minute => 1.0,
            Self::Hour => 60.0,
            Self::Day => 1440.0,
            Self::Week => 10_080.0,
        }
    }

    /// As printed after a stroke.
    pub fn name(self) -> &'static str {
        match self {
            Self::Minute => "min",
            Self::Hour => "hour",
            Self::Day => "day",
            Self::Week => "week",
        }
    }

    /// All spellings, in small letters.
    pub(super) fn spellings(self) -> &'static [&'static str] {
        match self {
            Self::Minute => &["min", "minute"],
            Self::Hour => &["h", "hour"],
            Self::Day => &["d", "day"],
            Self::Week => &["week"],
        }
    }
}

/// A volume over a time; base unit mL/min.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RateUnit {
    /// The volume.
    pub volume: VolumeUnit,
    /// The time.
    pub per: TimeUnit,
}

impl RateUnit {
    /// The value in mL/min.
    pub fn to_base(self, value: f64) -> f64 {
        self.volume.to_base(value) / self.per.minutes()
    }

    /// The value in this unit.
    pub fn of_base(self, ml_per_min: f64) -> f64 {
        self.volume.of_base(ml_per_min * self.per.minutes())
    }
}
