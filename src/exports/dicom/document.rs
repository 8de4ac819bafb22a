//! The report as Encapsulated PDF (PS3.3, A.45.1).

use dicom_core::VR;
use dicom_core::value::PrimitiveValue;
use dicom_dictionary_std::tags;

use super::common::{Series, animal, day, instance, study_uid};
use super::data::{DicomError, plain, uid};
use super::measured::reference;
use super::{DicomCase, DicomPhoto};

/// Encapsulated PDF Storage.
const CLASS: &str = "1.2.840.10008.5.1.4.1.1.104.1";

/// The PDF as a file that refers to the photos it shows.
pub(super) fn document(
    case: &DicomCase,
    photos: &[DicomPhoto],
    title: &str,
    pdf: &[u8],
) -> Result<Vec<u8>, DicomError> {
    let length = u32::try_from(pdf.len()).map_err(|_| DicomError::TooLarge)?;
    let uid = uid(&["document", &study_uid(case), &day(case.made_on), title]);
    let series = Series { modality: "DOC", number: 3, instance: 1 };
    let mut padded = pdf.to_vec();
    padded.resize(padded.len().next_multiple_of(2), 0);
    animal(case)
        .with(instance(case, CLASS, &uid, &series))
        .text(tags::CONVERSION_TYPE, VR::CS, "WSD")
        .text(tags::CONTENT_DATE, VR::DA, &day(case.made_on))
        .text(tags::CONTENT_TIME, VR::TM, "000000")
        .empty(tags::ACQUISITION_DATE_TIME, VR::DT)
        .text(tags::BURNED_IN_ANNOTATION, VR::CS, "YES")
        .text(tags::DOCUMENT_TITLE, VR::ST, &plain(title, 1000))
        .sequence(tags::CONCEPT_NAME_CODE_SEQUENCE, Vec::new())
        .sequence(tags::SOURCE_INSTANCE_SEQUENCE, photos.iter().map(|photo| reference(case, photo)).collect())
        .text(tags::MIME_TYPE_OF_ENCAPSULATED_DOCUMENT, VR::LO, "application/pdf")
        .value(tags::ENCAPSULATED_DOCUMENT, VR::OB, PrimitiveValue::U8(padded.into()))
        .value(tags::ENCAPSULATED_DOCUMENT_LENGTH, VR::UL, PrimitiveValue::from(length))
        .file(CLASS, &uid)
}
