//! Questions about one conductor, and about a bundle.

use super::Request;
use crate::conductor::{
    AmpacityAnswer, AmpacityQuestion, Basis, BundleAnswer, BundleQuestion, ConductorAnswer,
    ConductorQuestion, DropAnswer, DropQuestion, bundle, drop_answer, size,
};
use crate::file_format::fault::Fault;
use crate::file_format::form::{Form, Shape, record};
use crate::model::{AreaBasis, DcBundling, DropBasis, RuleSet, SizeSeriesChoice};
use crate::tables::Insulation;
use crate::units::{Amperes, Celsius, Metres, Millimetres, SizeSeries, Volts, WireSize, bounds};
use crate::working::NotEvaluated;
use serde::Serialize;

/// Rule sets of the quick calculations: both United States sets share one table.
const RULE_SET_WORDS: &[&str] = &["us", "iso"];

record! {
    /// Question: which conductor for this current, length and drop limit?
    ConductorRequest
    required {
        /// Nominal voltage of the system.
        nominal_v: f64 = Shape::Number(&bounds::VOLTS);
        /// Current of the load.
        current_a: f64 = Shape::Number(&bounds::AMPERES);
        /// Greatest drop, percent of nominal.
        drop_limit_percent: f64 = Shape::Number(&bounds::PERCENT);
    }
    optional {
        /// Length out and back. State this or `round_trip_ft`.
        round_trip_m: Option<f64> = Shape::Number(&bounds::METRES);
        /// Length out and back. State this or `round_trip_m`.
        round_trip_ft: Option<f64> = Shape::Number(&bounds::FEET);
        /// How the resistance is found.
        drop_basis: Option<String> = Shape::Choice(DropBasis::WORDS);
        /// Temperature of the conductor.
        conductor_temperature_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Series to choose from.
        size_series: Option<String> = Shape::Choice(SizeSeriesChoice::WORDS);
        /// Which area stands for a gauge number.
        area_basis: Option<String> = Shape::Choice(AreaBasis::WORDS);
        /// Rule set of the ampacity table.
        rule_set: Option<String> = Shape::Choice(RULE_SET_WORDS);
        /// Temperature rating of the insulation: a class of the tables.
        insulation_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Whether any part runs in an engine space.
        engine_space: Option<bool> = Shape::Flag;
        /// Loaded conductors lying together, this one counted.
        bundled_conductors: Option<u32> = Shape::Whole(1, 10_000);
        /// How bundled conductors below 50 V are reduced.
        dc_bundling: Option<String> = Shape::Choice(DcBundling::WORDS);
        /// Leave the ampacity out of the choice; it is still stated.
        governed_only_by_drop: Option<bool> = Shape::Flag;
    }
}

record! {
    /// Question: what does this conductor lose?
    DropRequest
    required {
        /// Conductor size.
        size: String = Shape::Size;
        /// Nominal voltage of the system.
        nominal_v: f64 = Shape::Number(&bounds::VOLTS);
        /// Current of the load.
        current_a: f64 = Shape::Number(&bounds::AMPERES);
    }
    optional {
        /// Length out and back. State this or `round_trip_ft`.
        round_trip_m: Option<f64> = Shape::Number(&bounds::METRES);
        /// Length out and back. State this or `round_trip_m`.
        round_trip_ft: Option<f64> = Shape::Number(&bounds::FEET);
        /// How the resistance is found.
        drop_basis: Option<String> = Shape::Choice(DropBasis::WORDS);
        /// Temperature of the conductor.
        conductor_temperature_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Series of the size; left out, the size itself tells.
        size_series: Option<String> = Shape::Choice(SizeSeriesChoice::WORDS);
        /// Which area stands for a gauge number.
        area_basis: Option<String> = Shape::Choice(AreaBasis::WORDS);
        /// Rule set of the ampacity table.
        rule_set: Option<String> = Shape::Choice(RULE_SET_WORDS);
        /// Temperature rating of the insulation: a class of the tables.
        insulation_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Whether any part runs in an engine space.
        engine_space: Option<bool> = Shape::Flag;
        /// Loaded conductors lying together, this one counted.
        bundled_conductors: Option<u32> = Shape::Whole(1, 10_000);
        /// How bundled conductors below 50 V are reduced.
        dc_bundling: Option<String> = Shape::Choice(DcBundling::WORDS);
        /// Makes no difference to a given size; taken so that both questions read alike.
        governed_only_by_drop: Option<bool> = Shape::Flag;
    }
}

record! {
    /// Question: what may this conductor carry?
    AmpacityRequest
    required {
        /// Conductor size.
        size: String = Shape::Size;
        /// Temperature rating of the insulation: a class of the tables.
        insulation_degc: f64 = Shape::Number(&bounds::CELSIUS);
    }
    optional {
        /// Rule set of the ampacity table.
        rule_set: Option<String> = Shape::Choice(RULE_SET_WORDS);
        /// Whether any part runs in an engine space.
        engine_space: Option<bool> = Shape::Flag;
        /// Loaded conductors lying together, this one counted.
        bundled_conductors: Option<u32> = Shape::Whole(1, 10_000);
        /// How bundled conductors below 50 V are reduced.
        dc_bundling: Option<String> = Shape::Choice(DcBundling::WORDS);
    }
}

record! {
    /// Question: how thick are these wires together, and how full is the conduit?
    BundleRequest
    required {
        /// Diameter of each wire over its insulation.
        diameters_mm: Vec<f64> = Shape::List(&Shape::Number(&bounds::DIAMETER_MM), 1);
    }
    optional {
        /// Bore of the conduit.
        bore_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
    }
}

/// A default that was taken because a field was left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Assumed {
    /// The field.
    pub field: &'static str,
    /// The value taken.
    pub value: String,
}

/// An answer and the defaults it rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WithDefaults<A> {
    /// The answer's own fields.
    #[serde(flatten)]
    pub answer: A,
    /// Defaults taken because fields were left out.
    pub assumed: Vec<Assumed>,
    /// What the reader must know before using it.
    pub caution: &'static str,
}

/// Reads optional fields, noting each default and each fault.
#[derive(Default)]
struct Reading {
    assumed: Vec<Assumed>,
    faults: Vec<Fault>,
}

impl Reading {
    fn word<T: Copy>(
        &mut self,
        field: &'static str,
        given: &Option<String>,
        from_word: fn(&str) -> Option<T>,
        default: (T, &str),
    ) -> T {
        let read = given.as_deref().and_then(from_word);
        read.unwrap_or_else(|| self.assume(field, default.1, default.0))
    }

    fn assume<T>(&mut self, field: &'static str, words: &str, value: T) -> T {
        self.assumed.push(Assumed {
            field,
            value: words.to_owned(),
        });
        value
    }

    fn round_trip(&mut self, metres: Option<f64>, feet: Option<f64>) -> Metres {
        match (metres, feet) {
            (Some(metres), None) => Metres::new(metres),
            (None, Some(feet)) => Metres::from_feet(feet),
            _ => {
                let both = metres.is_some();
                self.faults.push(Fault {
                    pointer: if both {
                        "/round_trip_ft"
                    } else {
                        "/round_trip_m"
                    }
                    .to_owned(),
                    detail: format!(
                        "The length out and back is stated {}. State exactly one of round_trip_m \
                         and round_trip_ft.",
                        if both { "twice" } else { "in neither unit" }
                    ),
                    given: feet
                        .filter(|_| both)
                        .map_or(String::new(), |feet| feet.to_string()),
                    limit: "one of round_trip_m, round_trip_ft".to_owned(),
                });
                Metres::new(1.0)
            }
        }
    }

    fn basis(
        &mut self,
        method: &Option<String>,
        area: &Option<String>,
        temperature_degc: Option<f64>,
    ) -> Basis {
        let method = self.word(
            "drop_basis",
            method,
            DropBasis::from_word,
            (DropBasis::TradeConstant, "trade-constant"),
        );
        let area = self.word(
            "area_basis",
            area,
            AreaBasis::from_word,
            (AreaBasis::Awg, "awg"),
        );
        let temperature = match (temperature_degc, method) {
            (Some(degc), _) => degc,
            // The trade constant takes no notice of it.
            (None, DropBasis::TradeConstant) => 30.0,
            (None, _) => self.assume("conductor_temperature_degc", "30", 30.0),
        };
        Basis {
            method,
            area,
            temperature: Celsius::new(temperature),
        }
    }

    fn rule_set(&mut self, given: &Option<String>) -> RuleSet {
        let from_word = |word: &str| match word {
            "us" => Some(RuleSet::UsFederal),
            "iso" => Some(RuleSet::Iso),
            _ => None,
        };
        self.word("rule_set", given, from_word, (RuleSet::UsFederal, "us"))
    }

    fn insulation(&mut self, given: Option<f64>) -> Insulation {
        let Some(degc) = given else {
            return self.assume("insulation_degc", "60 (the coolest class)", Insulation::C60);
        };
        Insulation::from_degc(degc).unwrap_or_else(|| {
            let classes: Vec<_> = Insulation::ALL
                .iter()
                .map(|class| class.celsius().value().to_string())
                .collect();
            self.faults.push(Fault {
                pointer: "/insulation_degc".to_owned(),
                detail: format!(
                    "No ampacity table has a class of {degc} °C. Take the next cooler."
                ),
                given: degc.to_string(),
                limit: format!("one of {}", classes.join(", ")),
            });
            Insulation::C60
        })
    }

    fn engine_space(&mut self, given: Option<bool>) -> bool {
        given.unwrap_or_else(|| self.assume("engine_space", "false", false))
    }

    fn bundled(&mut self, given: Option<u32>) -> u32 {
        given.unwrap_or_else(|| self.assume("bundled_conductors", "1", 1))
    }

    fn bundling(&mut self, given: &Option<String>) -> DcBundling {
        let default = (DcBundling::ByCount, "by-count");
        self.word("dc_bundling", given, DcBundling::from_word, default)
    }

    fn size(&mut self, given: &str) -> Option<WireSize> {
        let size = given.parse::<WireSize>().ok()?;
        if crate::tables::conductors::row(size).is_none() {
            self.faults.push(Fault {
                pointer: "/size".to_owned(),
                detail: format!("The conductor table has no {size}. Choose a size of the table."),
                given: given.to_owned(),
                limit: "18 AWG to 4/0 AWG, or 0.75 mm2 to 150 mm2".to_owned(),
            });
            return None;
        }
        Some(size)
    }

    /// A stated series has to be that of the size.
    fn series_of(&mut self, size: WireSize, given: &Option<String>) {
        let own = match size.series() {
            SizeSeries::Awg => SizeSeriesChoice::Awg,
            SizeSeries::Metric => SizeSeriesChoice::Mm2,
        };
        if let Some(word) = given.as_deref().filter(|word| *word != own.word()) {
            self.faults.push(Fault {
                pointer: "/size_series".to_owned(),
                detail: format!("{size} is not of the series \"{word}\". Leave the series out."),
                given: word.to_owned(),
                limit: own.word().to_owned(),
            });
        }
    }

    /// The answer with the defaults taken, or every fault.
    fn done<A>(
        self,
        answer: impl FnOnce() -> Result<A, NotEvaluated>,
    ) -> Result<WithDefaults<A>, Vec<Fault>> {
        if !self.faults.is_empty() {
            return Err(self.faults);
        }
        let answer = answer().map_err(|why| {
            vec![Fault {
                pointer: String::new(),
                detail: format!("{why}."),
                given: String::new(),
                limit: String::new(),
            }]
        })?;
        Ok(WithDefaults {
            answer,
            assumed: self.assumed,
            caution: crate::CAUTION,
        })
    }
}

impl Request for ConductorRequest {
    type Answer = WithDefaults<ConductorAnswer>;
    const FORM: &'static Form = ConductorRequest::FORM;

    fn answer(self) -> Result<Self::Answer, Vec<Fault>> {
        let mut reading = Reading::default();
        let series = reading.word(
            "size_series",
            &self.size_series,
            SizeSeriesChoice::from_word,
            (SizeSeriesChoice::Awg, "awg"),
        );
        let question = ConductorQuestion {
            nominal: Volts::new(self.nominal_v),
            current: Amperes::new(self.current_a),
            round_trip: reading.round_trip(self.round_trip_m, self.round_trip_ft),
            drop_limit_percent: self.drop_limit_percent,
            basis: reading.basis(
                &self.drop_basis,
                &self.area_basis,
                self.conductor_temperature_degc,
            ),
            series: match series {
                SizeSeriesChoice::Awg => SizeSeries::Awg,
                SizeSeriesChoice::Mm2 => SizeSeries::Metric,
            },
            rule_set: reading.rule_set(&self.rule_set),
            insulation: reading.insulation(self.insulation_degc),
            engine_space: reading.engine_space(self.engine_space),
            bundled_conductors: reading.bundled(self.bundled_conductors),
            bundling: reading.bundling(&self.dc_bundling),
            governed_only_by_drop: self.governed_only_by_drop.unwrap_or(false),
        };
        reading.done(|| Ok(size(&question)))
    }
}

impl Request for DropRequest {
    type Answer = WithDefaults<DropAnswer>;
    const FORM: &'static Form = DropRequest::FORM;

    fn answer(self) -> Result<Self::Answer, Vec<Fault>> {
        let mut reading = Reading::default();
        let size = reading.size(&self.size);
        if let Some(size) = size {
            reading.series_of(size, &self.size_series);
        }
        let question = DropQuestion {
            // A size that is not in the table is a fault already; the stand-in is never used.
            size: size.unwrap_or(WireSize::awg(18)),
            nominal: Volts::new(self.nominal_v),
            current: Amperes::new(self.current_a),
            round_trip: reading.round_trip(self.round_trip_m, self.round_trip_ft),
            basis: reading.basis(
                &self.drop_basis,
                &self.area_basis,
                self.conductor_temperature_degc,
            ),
            rule_set: reading.rule_set(&self.rule_set),
            insulation: reading.insulation(self.insulation_degc),
            engine_space: reading.engine_space(self.engine_space),
            bundled_conductors: reading.bundled(self.bundled_conductors),
            bundling: reading.bundling(&self.dc_bundling),
        };
        reading.done(|| drop_answer(&question))
    }
}

impl Request for AmpacityRequest {
    type Answer = WithDefaults<AmpacityAnswer>;
    const FORM: &'static Form = AmpacityRequest::FORM;

    fn answer(self) -> Result<Self::Answer, Vec<Fault>> {
        let mut reading = Reading::default();
        let size = reading.size(&self.size);
        let question = AmpacityQuestion {
            size: size.unwrap_or(WireSize::awg(18)),
            insulation: reading.insulation(Some(self.insulation_degc)),
            rule_set: reading.rule_set(&self.rule_set),
            engine_space: reading.engine_space(self.engine_space),
            bundled_conductors: reading.bundled(self.bundled_conductors),
            bundling: reading.bundling(&self.dc_bundling),
        };
        reading.done(|| Ok(question.answer()))
    }
}

impl Request for BundleRequest {
    type Answer = WithDefaults<BundleAnswer>;
    const FORM: &'static Form = BundleRequest::FORM;

    fn answer(self) -> Result<Self::Answer, Vec<Fault>> {
        let question = BundleQuestion {
            diameters: self
                .diameters_mm
                .into_iter()
                .map(Millimetres::new)
                .collect(),
            bore: self.bore_mm.map(Millimetres::new),
        };
        Reading::default().done(|| bundle(&question))
    }
}

#[cfg(test)]
mod tests {
    use crate::requests::{AmpacityRequest, ConductorRequest, answer};
    use serde_json::json;

    #[test]
    fn the_chandlers_bilge_pump_takes_12_awg_by_area_and_10_by_the_sae_minimum() {
        // Jamestown Distributors docId 81: 10 A, 21 ft out and back, 3 % of 12 V needs 6 271 CM.
        let ask = |area: &str| {
            answer::<ConductorRequest>(json!({
                "nominal_v": 12, "current_a": 10, "round_trip_ft": 21, "drop_limit_percent": 3,
                "drop_basis": "trade-constant", "area_basis": area, "governed_only_by_drop": true,
            }))
            .unwrap()
            .answer
        };
        assert_eq!(ask("awg").size.as_deref(), Some("12 AWG"));
        assert_eq!(ask("sae-minimum").size.as_deref(), Some("10 AWG"));
        assert!((ask("awg").required_area_cmil.unwrap() - 6270.8).abs() < 0.1);
    }

    #[test]
    fn every_fault_of_a_question_comes_at_once() {
        let faults = answer::<ConductorRequest>(json!({
            "nominal_v": -12, "current_a": "ten", "drop_limit": 3,
        }))
        .unwrap_err();
        let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(
            places,
            [
                "/current_a",
                "/drop_limit",
                "/drop_limit_percent",
                "/nominal_v"
            ]
        );
        let faults = answer::<ConductorRequest>(json!({
            "nominal_v": 12, "current_a": 10, "drop_limit_percent": 3, "insulation_degc": 61,
        }))
        .unwrap_err();
        let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(places, ["/round_trip_m", "/insulation_degc"]);
    }

    #[test]
    fn a_default_taken_is_told() {
        let told = answer::<AmpacityRequest>(json!({"size": "12 AWG", "insulation_degc": 105}));
        let fields: Vec<_> = told
            .unwrap()
            .assumed
            .iter()
            .map(|assumed| assumed.field)
            .collect();
        assert_eq!(
            fields,
            [
                "rule_set",
                "engine_space",
                "bundled_conductors",
                "dc_bundling"
            ]
        );
    }
}
