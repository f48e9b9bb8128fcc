//! Lesion codes, stages of digital dermatitis, and our own severity scale.

use std::fmt;

/// A lesion code of the ICAR Claw Health Atlas for which a source could be named.
#[derive(Debug, PartialEq, Eq)]
pub struct LesionCode {
    /// The atlas code.
    pub code: &'static str,
    /// The lesion's name.
    pub name: &'static str,
    /// Where the code was read.
    pub source: &'static str,
    /// Zones in which it is usual; empty where no source says so.
    pub usual_zones: &'static [u8],
}

const LIEGE: &str = "orbi.uliege.be/handle/2268/234156";
const OPEN_CODE: &str = "public recording software agrees on the code";
/// No source could be opened for these; they stand as remembered.
const MEMORY: &str = "code from memory";
const ULCER_ZONES: &[u8] = &[4, 5, 6];
const WHITE_LINE_ZONES: &[u8] = &[1, 2, 3];

const fn code(
    code: &'static str,
    name: &'static str,
    source: &'static str,
    usual_zones: &'static [u8],
) -> LesionCode {
    LesionCode { code, name, source, usual_zones }
}

/// Every code that can be entered; whatever else is seen goes in as free text.
///
/// Usual zones: agproud.com/articles/28244 (white line 1-3, ulcers 4-6) and dairyhoofhealth.info (haemorrhage 4-6).
pub static CODES: [LesionCode; 27] = [
    code("AC", "asymmetric claws", MEMORY, &[]),
    code("BU", "bulb ulcer", MEMORY, &[]),
    code("CC", "corkscrew claws", MEMORY, &[]),
    code("CD", "concave dorsal wall", MEMORY, &[]),
    code("DD", "digital dermatitis", LIEGE, &[]),
    code("DS", "double sole", MEMORY, &[]),
    code("HF", "horn fissure", MEMORY, &[]),
    code("HFA", "axial horn fissure", MEMORY, &[]),
    code("HFH", "horizontal horn fissure", MEMORY, &[]),
    code("HFV", "vertical horn fissure", MEMORY, &[]),
    code("HHE", "heel horn erosion", LIEGE, &[]),
    code("ID", "interdigital dermatitis", LIEGE, &[]),
    code("IH", "interdigital hyperplasia", OPEN_CODE, &[]),
    code("IP", "interdigital phlegmon", OPEN_CODE, &[]),
    code("SC", "scissor claws", OPEN_CODE, &[]),
    code("SH", "sole haemorrhage", LIEGE, ULCER_ZONES),
    code("SHC", "circumscribed sole haemorrhage", MEMORY, ULCER_ZONES),
    code("SHD", "diffuse sole haemorrhage", MEMORY, &[]),
    code("SU", "sole ulcer", LIEGE, ULCER_ZONES),
    code("SW", "swelling of coronet or bulb", OPEN_CODE, &[]),
    code("TN", "toe necrosis", MEMORY, &[]),
    code("TS", "thin sole", MEMORY, &[]),
    code("TU", "toe ulcer", MEMORY, &[]),
    code("U", "ulcer", MEMORY, &[]),
    code("WL", "white line disease", LIEGE, WHITE_LINE_ZONES),
    code("WLA", "white line abscess", MEMORY, WHITE_LINE_ZONES),
    code("WLF", "white line fissure", MEMORY, WHITE_LINE_ZONES),
];

/// Most letters of a word that must be a code: a slip in a code is no lesion of its own (our choice).
const CODE_LETTERS: usize = 3;
/// Likeness, 0 to 1, from which own words are taken for a slip in the name of a lesion (our choice).
const LIKE_A_NAME: f64 = 0.8;

/// What was found: an atlas code, or the trimmer's own words.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Lesion(String);

impl Lesion {
    /// The lesion of a text; codes are accepted in either case. `None` for nothing found.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let text = text.trim();
        if text.is_empty() || ["none", "no lesion", "no", "-"].iter().any(|n| n.eq_ignore_ascii_case(text)) {
            return None;
        }
        let known =
            CODES.iter().find(|c| c.code.eq_ignore_ascii_case(text) || c.name.eq_ignore_ascii_case(text));
        Some(Self(known.map_or(text, |c| c.code).to_owned()))
    }

    /// Its entry in the atlas list; `None` for free text.
    #[must_use]
    pub fn code(&self) -> Option<&'static LesionCode> {
        CODES.iter().find(|c| c.code == self.0)
    }

    /// Whether it may be a slip of the fingers: a short word that is no code, or one that is nearly the name of a
    /// lesion, which is given then.
    #[must_use]
    pub fn slip(&self) -> Option<Option<&'static LesionCode>> {
        if self.code().is_some() {
            return None;
        }
        let words = self.0.to_lowercase();
        let likeness = |code: &LesionCode| strsim::normalized_levenshtein(&words, code.name);
        let nearest = CODES.iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
        let nearest = nearest.filter(|code| likeness(code) >= LIKE_A_NAME);
        (nearest.is_some() || self.0.chars().count() <= CODE_LETTERS).then_some(nearest)
    }

    /// The code, or the free text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The name in words.
    #[must_use]
    pub fn name(&self) -> &str {
        self.code().map_or(&self.0, |c| c.name)
    }
}

impl fmt::Display for Lesion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Stage of digital dermatitis. Source: veterinaryresearch.biomedcentral.com 10.1186/s13567-020-00750-8, table 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum DdStage {
    /// Normal skin.
    M0,
    /// Early, focal, active, under 2 cm.
    M1,
    /// Ulcerative, active, usually over 2 cm, painful.
    M2,
    /// Healing, dry scab.
    M3,
    /// Chronic, hyperkeratotic.
    M4,
    /// Chronic with a small active M1 focus.
    M41,
}

impl DdStage {
    /// Every stage.
    pub const ALL: [Self; 6] = [Self::M0, Self::M1, Self::M2, Self::M3, Self::M4, Self::M41];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::M0 => "M0",
            Self::M1 => "M1",
            Self::M2 => "M2",
            Self::M3 => "M3",
            Self::M4 => "M4",
            Self::M41 => "M4.1",
        }
    }

    /// The stage of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|stage| stage.name().eq_ignore_ascii_case(name))
    }
}

/// How bad the lesion looks, on fourplate's own scale: the atlas has no standard one (adewg/ICAR#297).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// 1: to be seen, horn and skin closed.
    Mild,
    /// 2: open or sore to the touch.
    Moderate,
    /// 3: deep, large or swollen: ask the veterinarian.
    Severe,
}

impl Severity {
    /// Its number, 1 to 3.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Mild => 1,
            Self::Moderate => 2,
            Self::Severe => 3,
        }
    }

    /// The severity of a number or a word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        match text.to_ascii_lowercase().as_str() {
            "1" | "mild" => Some(Self::Mild),
            "2" | "moderate" => Some(Self::Moderate),
            "3" | "severe" => Some(Self::Severe),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_read_in_either_case_and_by_name() {
        assert_eq!(Lesion::from_text("wl").unwrap().as_str(), "WL");
        assert_eq!(Lesion::from_text("Sole ulcer").unwrap().as_str(), "SU");
        assert_eq!(Lesion::from_text("stone in the cleft").unwrap().code(), None);
        assert_eq!(Lesion::from_text("none"), None);
        assert_eq!(Lesion::from_text("white line abscess").unwrap().as_str(), "WLA");
        assert_eq!(DdStage::from_name("m4.1"), Some(DdStage::M41));
    }

    #[test]
    fn a_slip_is_told_from_a_code_and_from_own_words() {
        let slip =
            |text: &str| Lesion::from_text(text).unwrap().slip().map(|near| near.map(|code| code.code));
        assert_eq!(slip("WL"), None);
        assert_eq!(slip("stone in the cleft"), None);
        assert_eq!(slip("nail"), None);
        assert_eq!(slip("WX"), Some(None));
        assert_eq!(slip("Sole ulcr"), Some(Some("SU")));
    }
}
