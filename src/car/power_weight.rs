//! Three published formulas from power and weight to a quarter mile.
//!
//! Owns their constants. Refuses to choose between them: together they are a range, not a promise.

/// ET = et·(W/P)^⅓ s and speed = mph·(P/W)^⅓, W in lb with driver and P in hp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerWeight {
    /// Whose.
    pub name: &'static str,
    et: f64,
    mph: f64,
}

impl PowerWeight {
    /// 6.290 and 224: R. Huntington, published (through a secondary page).
    pub const HUNTINGTON: Self = Self { name: "Huntington", et: 6.290, mph: 224.0 };
    /// 6.269 and 230: G. T. Fox, "On the physics of drag racing", Am. J. Phys. 41 (1973), through a
    /// secondary page; the paper itself not read.
    pub const FOX: Self = Self { name: "Fox", et: 6.269, mph: 230.0 };
    /// 5.825 and 234: P. Hale, published (through a secondary page).
    pub const HALE: Self = Self { name: "Hale", et: 5.825, mph: 234.0 };

    /// All three.
    pub const ALL: [Self; 3] = [Self::HUNTINGTON, Self::FOX, Self::HALE];

    /// The quarter-mile time, s; not finite for weights or powers that are not above 0.
    pub fn et_s(&self, weight_lb: f64, power_hp: f64) -> f64 {
        self.et * (weight_lb / power_hp).cbrt()
    }

    /// The speed at the quarter mile, mph.
    pub fn mph(&self, weight_lb: f64, power_hp: f64) -> f64 {
        self.mph * (power_hp / weight_lb).cbrt()
    }
}

/// Smallest and largest of the three formulas' answers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerWeightRange {
    /// Quarter-mile time, s.
    pub et_s: (f64, f64),
    /// Speed there, mph.
    pub mph: (f64, f64),
}

/// What the three formulas say of this weight and power.
pub fn power_weight_range(weight_lb: f64, power_hp: f64) -> PowerWeightRange {
    let ends = |of: &dyn Fn(&PowerWeight) -> f64| {
        let values = PowerWeight::ALL.map(|formula| of(&formula));
        (
            values.into_iter().fold(f64::INFINITY, f64::min),
            values.into_iter().fold(f64::NEG_INFINITY, f64::max),
        )
    };
    PowerWeightRange {
        et_s: ends(&|formula| formula.et_s(weight_lb, power_hp)),
        mph: ends(&|formula| formula.mph(weight_lb, power_hp)),
    }
}
