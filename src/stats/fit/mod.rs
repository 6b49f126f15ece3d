//! Which parameters make a law most likely to have given a sample.
//!
//! Owns maximum likelihood for every law, one file each, and what came of it: an optimum inside
//! the domain, one on its edge, or none. Refuses false optima: a shift at the fastest time, where
//! some likelihoods are infinite, is none.
//!
//! Everything is fitted in standard units (mean 0, standard deviation 1) and moved back, so fits
//! follow any change of unit or origin.

mod anticipate_react;
mod bins;
mod ex_gaussian;
mod newton;
mod normal;
mod shifted_lognormal;
mod shifted_wald;
mod standard;
mod threshold;

pub(super) use anticipate_react::gain_of_second_part;

use super::family::{Family, Model, ShiftedLognormal, ShiftedWald};
use super::{Sample, StatsError};
use standard::Standardised;

/// What kind of optimum was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Inside the domain: a proper fit.
    Interior,
    /// On the edge of the domain: the sample asks for a simpler law, which is the fit's model.
    Boundary,
    /// Nowhere.
    None,
}

impl Status {
    /// The word in reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Interior => "interior",
            Self::Boundary => "boundary",
            Self::None => "none",
        }
    }
}

/// The outcome of fitting one law.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The law that was asked for.
    pub family: Family,
    /// What kind of optimum was found.
    pub status: Status,
    /// The law to compute with. At the boundary this is the limit the asked law tends to: the
    /// normal law for tau → 0 and for a shift that runs away to the left, for sigma → 0 the
    /// ex-Gaussian with sigma at a hundredth of the sample's spread, for two parts of which one is
    /// empty the other's law, and for two parts without a tail those with tau at a thousandth.
    pub model: Option<Model>,
    /// Parameters in the order of [`Family::parameter_names`]; `None` for one that diverges at the
    /// boundary, empty without a fit.
    pub parameters: Vec<Option<f64>>,
    /// Standard errors of the parameters from the observed information, in the same order and
    /// units; only for an interior optimum whose information is positive definite.
    pub standard_errors: Option<Vec<f64>>,
    /// ln of the likelihood at the optimum, densities per unit of the times; `None` without one.
    pub log_likelihood: Option<f64>,
    /// Values it rests on.
    pub n: usize,
}

impl Fit {
    /// The same fit for times multiplied by `factor`.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless the factor is positive and keeps every parameter finite.
    pub fn scaled(&self, factor: f64) -> Result<Self, StatsError> {
        let powers = scale_powers(self.family);
        let model = self.model.map(|model| model.moved(factor, 0.0)).transpose()?;
        let interior = match model {
            Some(model) if model.family() == self.family => Some(model.parameters()),
            _ => None,
        };
        let parameters = match interior {
            Some(p) => p.into_iter().map(Some).collect(),
            None => self.parameters.iter().map(|p| p.map(|p| p * factor)).collect(),
        };
        let standard_errors = self.standard_errors.as_ref().map(|errors| {
            errors
                .iter()
                .zip(powers)
                .map(|(e, scales)| if *scales { e * factor } else { *e })
                .collect()
        });
        let log_likelihood = self.log_likelihood.map(|l| l - self.n as f64 * factor.ln());
        Ok(Self { model, parameters, standard_errors, log_likelihood, ..self.clone() })
    }

    /// No optimum.
    fn none(family: Family, n: usize) -> Self {
        Self {
            family,
            status: Status::None,
            model: None,
            parameters: Vec::new(),
            standard_errors: None,
            log_likelihood: None,
            n,
        }
    }
}

/// Which parameters carry the unit of the times.
fn scale_powers(family: Family) -> &'static [bool] {
    match family {
        Family::Normal => &[true, true],
        Family::ExGaussian | Family::ShiftedWald => &[true, true, true],
        Family::ShiftedLognormal => &[true, false, false],
        Family::AnticipateReact => &[false, true, true, true, true, true],
    }
}

/// Fits one law to `sample` by maximum likelihood.
///
/// # Errors
/// [`StatsError::TooFew`] below one value more than the law has parameters,
/// [`StatsError::NoSpread`] if the values do not differ by more than rounding, and
/// [`StatsError::OutOfDomain`] if they are too large to square.
pub fn fit(family: Family, sample: &Sample) -> Result<Fit, StatsError> {
    sample.at_least(family.parameter_count() + 1)?;
    fit_standardised(family, &Standardised::new(sample.values())?)
}

/// Fits several laws to the same sample, standardising it once.
///
/// # Errors
/// As [`fit`], for the law with the most parameters.
pub fn fit_all(families: &[Family], sample: &Sample) -> Result<Vec<Fit>, StatsError> {
    let need = families.iter().map(|family| family.parameter_count() + 1).max().unwrap_or(1);
    sample.at_least(need)?;
    let standardised = Standardised::new(sample.values())?;
    families.iter().map(|family| fit_standardised(*family, &standardised)).collect()
}

/// Fits one law to a sample like the one it has been fitted to, with `near` as the outcome: where a
/// fit needs several starts, this is the only one.
///
/// # Errors
/// As [`fit`].
pub fn refit(family: Family, near: &Model, sample: &Sample) -> Result<Fit, StatsError> {
    match near {
        Model::AnticipateReact(law) => {
            sample.at_least(family.parameter_count() + 1)?;
            let data = Standardised::new(sample.values())?;
            in_units(family, anticipate_react::fit_near(&data, law)?, &data)
        }
        _ => fit(family, sample),
    }
}

/// What one law's file finds, in standard units.
struct Found {
    status: Status,
    model: Model,
    /// Standard errors of the parameters.
    standard_errors: Option<Vec<f64>>,
    /// ln of the likelihood.
    log_likelihood: f64,
}

fn fit_standardised(family: Family, data: &Standardised) -> Result<Fit, StatsError> {
    let found = match family {
        Family::Normal => Some(normal::fit(data)?),
        Family::ExGaussian => Some(ex_gaussian::fit(data)?),
        Family::ShiftedLognormal => threshold::fit::<ShiftedLognormal>(data)?,
        Family::ShiftedWald => threshold::fit::<ShiftedWald>(data)?,
        Family::AnticipateReact => anticipate_react::fit(data)?,
    };
    in_units(family, found, data)
}

/// What was found in standard units, told in those of the sample.
fn in_units(family: Family, found: Option<Found>, data: &Standardised) -> Result<Fit, StatsError> {
    let n = data.values.len();
    let Some(found) = found else {
        return Ok(Fit::none(family, n));
    };
    let model = found.model.moved(data.sd, data.mean)?;
    let parameters = match (model.family() == family, family) {
        (true, _) => model.parameters().into_iter().map(Some).collect(),
        (false, Family::ExGaussian) => vec![Some(data.mean), Some(data.sd), Some(0.0)],
        (false, _) => vec![None; family.parameter_count()],
    };
    let standard_errors = found.standard_errors.map(|errors| {
        let powers = scale_powers(family);
        errors
            .iter()
            .zip(powers)
            .map(|(e, scales)| if *scales { e * data.sd } else { *e })
            .collect()
    });
    let log_likelihood = found.log_likelihood - n as f64 * data.sd.ln();
    Ok(Fit {
        family,
        status: found.status,
        model: Some(model),
        parameters,
        standard_errors,
        log_likelihood: Some(log_likelihood),
        n,
    })
}
