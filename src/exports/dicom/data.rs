//! A data set that grows element by element, and identifiers that are the same for the same case.

use dicom_core::value::{DataSetSequence, PrimitiveValue};
use dicom_core::{DataElement, Tag, VR};
use dicom_object::{FileMetaTableBuilder, InMemDicomObject};
use sha2::{Digest, Sha256};

/// Longest text of a long string (LO), of a person's name's group (PN) and of a short text, characters; PS3.5, 6.2.
const LONG_STRING: usize = 64;

/// Identifies this program as the writer of files: a UUID of its own, drawn once.
const IMPLEMENTATION: &str = "2.25.277849862389013046913204163486025781943";

/// Little endian with explicit value representations, PS3.5 A.2.
const EXPLICIT_LITTLE_ENDIAN: &str = "1.2.840.10008.1.2.1";

/// Why no object could be made.
#[derive(Debug, thiserror::Error)]
pub enum DicomError {
    /// The writer refused it.
    #[error("the DICOM file cannot be made: {0}; report this with the photo")]
    Refused(String),
    /// More pixels than its lengths can say.
    #[error("the photo is too large for DICOM, which counts sides in 16 bits; give a smaller photo")]
    TooLarge,
}

/// A data set.
#[derive(Default)]
pub(super) struct Data {
    elements: Vec<DataElement<InMemDicomObject>>,
}

impl Data {
    pub(super) fn new() -> Data {
        Data::default()
    }

    /// A text as it is; the caller knows that it fits.
    pub(super) fn text(mut self, tag: Tag, vr: VR, text: &str) -> Data {
        self.elements.push(DataElement::new(tag, vr, PrimitiveValue::from(text)));
        self
    }

    /// An element that must be there and may be empty.
    pub(super) fn empty(mut self, tag: Tag, vr: VR) -> Data {
        self.elements.push(DataElement::new(tag, vr, PrimitiveValue::Empty));
        self
    }

    /// What a person wrote, as a long string: control characters and the sign that parts values out, shortened to fit.
    pub(super) fn words(self, tag: Tag, words: Option<&str>) -> Data {
        match words {
            Some(words) => self.text(tag, VR::LO, &plain(words, LONG_STRING)),
            None => self.empty(tag, VR::LO),
        }
    }

    pub(super) fn number(mut self, tag: Tag, number: u16) -> Data {
        self.elements.push(DataElement::new(tag, VR::US, PrimitiveValue::from(number)));
        self
    }

    pub(super) fn value(mut self, tag: Tag, vr: VR, value: PrimitiveValue) -> Data {
        self.elements.push(DataElement::new(tag, vr, value));
        self
    }

    /// A sequence; without items it is there and empty.
    pub(super) fn sequence(mut self, tag: Tag, items: Vec<Data>) -> Data {
        let items: Vec<InMemDicomObject> = items.into_iter().map(Data::object).collect();
        self.elements.push(DataElement::new(tag, VR::SQ, DataSetSequence::from(items)));
        self
    }

    /// The elements of another set as well.
    pub(super) fn with(mut self, other: Data) -> Data {
        self.elements.extend(other.elements);
        self
    }

    fn object(self) -> InMemDicomObject {
        InMemDicomObject::from_element_iter(self.elements)
    }

    /// The finished file.
    pub(super) fn file(self, class: &str, instance: &str) -> Result<Vec<u8>, DicomError> {
        let refused = |error: &dyn std::error::Error| DicomError::Refused(error.to_string());
        let meta = FileMetaTableBuilder::new()
            .media_storage_sop_class_uid(class)
            .media_storage_sop_instance_uid(instance)
            .transfer_syntax(EXPLICIT_LITTLE_ENDIAN)
            .implementation_class_uid(IMPLEMENTATION)
            .implementation_version_name(format!("PILUMEN_{}", env!("CARGO_PKG_VERSION")));
        let file = self.object().with_meta(meta).map_err(|error| refused(&error))?;
        let mut bytes = Vec::new();
        file.write_all(&mut bytes).map_err(|error| refused(&error))?;
        Ok(bytes)
    }
}

/// A code of a coding scheme: value, scheme, meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Code(pub(super) &'static str, pub(super) &'static str, pub(super) &'static str);

/// This program's own scheme, for what no published code was verified for; private schemes begin with 99 (PS3.3, 8.2).
pub(super) const OWN: &str = "99PILUMEN";

impl Code {
    pub(super) fn data(self) -> Data {
        use dicom_dictionary_std::tags;
        Data::new().text(tags::CODE_VALUE, VR::SH, self.0).text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, self.1).text(
            tags::CODE_MEANING,
            VR::LO,
            self.2,
        )
    }
}

/// Text without control characters and backslashes, of at most so many characters.
pub(super) fn plain(words: &str, most: usize) -> String {
    words
        .chars()
        .map(|c| if c.is_control() || c == '\\' { ' ' } else { c })
        .take(most)
        .collect::<String>()
        .trim()
        .to_owned()
}

/// A name as a group of a person's name, without the signs that part its components.
pub(super) fn name(words: &str) -> String {
    plain(&words.replace(['^', '='], " "), LONG_STRING)
}

/// An identifier made of what it identifies: the digits of a UUID (PS3.5, B.2), which is cut from a digest and marked as
/// such (RFC 9562, version 8). The same parts give the same identifier.
pub(super) fn uid(parts: &[&str]) -> String {
    let mut digest = Sha256::new();
    for part in parts {
        // With its length before it, so that no two lists of parts read the same.
        digest.update((part.len() as u64).to_le_bytes());
        digest.update(part);
    }
    let digest = digest.finalize();
    let mut bytes = [0_u8; 16];
    bytes.copy_from_slice(&digest[..16]);
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    format!("2.25.{}", u128::from_be_bytes(bytes))
}

/// A number as a decimal string of at most 16 characters (PS3.5, 6.2), as exact as that allows; absent when it is none.
pub(super) fn decimal(value: f64) -> Option<String> {
    if !value.is_finite() {
        return None;
    }
    let plain = value.to_string();
    if plain.len() <= 16 {
        return Some(plain);
    }
    let error = |text: &String| text.parse::<f64>().map_or(f64::INFINITY, |read| (read - value).abs());
    (0..=16)
        .flat_map(|digits| [format!("{value:.digits$}"), format!("{value:.digits$e}")])
        .filter(|text| text.len() <= 16)
        .min_by(|a, b| error(a).total_cmp(&error(b)))
}

#[cfg(test)]
mod tests {
    use super::{decimal, name, plain, uid};

    #[test]
    fn identifiers_are_digits_of_a_uuid_and_the_same_for_the_same() {
        let one = uid(&["image", "abc"]);
        assert_eq!(one, uid(&["image", "abc"]));
        assert_ne!(one, uid(&["imagea", "bc"]), "parts are kept apart");
        let digits: u128 = one.strip_prefix("2.25.").unwrap().parse().unwrap();
        assert_eq!(digits >> 76 & 0xf, 8, "version");
        assert_eq!(digits >> 62 & 0x3, 2, "variant");
        assert!(one.len() <= 64);
    }

    #[test]
    fn numbers_fit_sixteen_characters() {
        assert_eq!(decimal(0.000345).unwrap(), "0.000345");
        for value in [1.0 / 3.0, -1.0 / 3.0, 1e-9 / 3.0, 123_456_789.123_456_78, -2.0e300 / 3.0, 0.0012345678901234567]
        {
            let text = decimal(value).unwrap();
            assert!(text.len() <= 16, "{text}");
            let read: f64 = text.parse().unwrap();
            assert!(((read - value) / value).abs() < 1e-7, "{value} as {text}");
        }
        assert_eq!(decimal(f64::NAN), None);
    }

    #[test]
    fn names_cannot_break_out() {
        assert_eq!(name("Moth^Tansy=Oriel\\x\u{7}"), "Moth Tansy Oriel x");
        assert_eq!(plain(&"é".repeat(99), 64).chars().count(), 64);
    }
}
