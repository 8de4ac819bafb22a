//! What every object says: animal, study, series, equipment.

use dicom_core::VR;
use dicom_dictionary_std::tags;
use jiff::civil::Date;

use super::DicomCase;
use super::data::{Code, Data, name, uid};
use crate::exports::from_record::Sex;

/// Felis catus, CID 7454.
const CAT: Code = Code("448169003", "SCT", "Felis catus");

/// A day as DICOM writes it.
pub(super) fn day(day: Date) -> String {
    format!("{:04}{:02}{:02}", day.year(), day.month(), day.day())
}

/// The animal, as Patient Module and veterinary attributes (DICOM CP-643): the owner's family name stands before the
/// animal's own where it may be told, PS3.3 C.7.1.1.1.1.
pub(super) fn animal(case: &DicomCase) -> Data {
    let facts = case.facts;
    let owner = facts.owner.as_deref().map(name);
    let called = facts.animal.as_deref().map(name);
    let data = match (&owner, &called) {
        (None, None) => Data::new().empty(tags::PATIENT_NAME, VR::PN),
        (owner, called) => {
            let of = |part: &Option<String>| part.clone().unwrap_or_default();
            Data::new().text(tags::PATIENT_NAME, VR::PN, &format!("{}^{}", of(owner), of(called)))
        }
    };
    let data = match &facts.species {
        // Only what this program is made for has a code that was verified.
        None => data
            .text(tags::PATIENT_SPECIES_DESCRIPTION, VR::LO, "cat")
            .sequence(tags::PATIENT_SPECIES_CODE_SEQUENCE, vec![CAT.data()]),
        Some(species) => data.words(tags::PATIENT_SPECIES_DESCRIPTION, Some(species)),
    };
    let data = data
        .words(tags::PATIENT_ID, facts.animal_number.as_deref())
        .words(tags::PATIENT_BREED_DESCRIPTION, facts.breed.as_deref())
        .sequence(tags::PATIENT_BREED_CODE_SEQUENCE, Vec::new())
        .sequence(tags::BREED_REGISTRATION_SEQUENCE, Vec::new())
        .words(tags::RESPONSIBLE_ORGANIZATION, facts.organisation.as_deref());
    let data = match facts.born {
        Some(born) => data.text(tags::PATIENT_BIRTH_DATE, VR::DA, &day(born)),
        None => data.empty(tags::PATIENT_BIRTH_DATE, VR::DA),
    };
    let data = match facts.sex {
        Some(Sex::Female) => data.text(tags::PATIENT_SEX, VR::CS, "F"),
        Some(Sex::Male) => data.text(tags::PATIENT_SEX, VR::CS, "M"),
        None => data.empty(tags::PATIENT_SEX, VR::CS),
    };
    let data = match facts.neutered {
        Some(true) => data.text(tags::PATIENT_SEX_NEUTERED, VR::CS, "ALTERED"),
        Some(false) => data.text(tags::PATIENT_SEX_NEUTERED, VR::CS, "UNALTERED"),
        None => data.empty(tags::PATIENT_SEX_NEUTERED, VR::CS),
    };
    match &owner {
        Some(owner) => {
            data.text(tags::RESPONSIBLE_PERSON, VR::PN, owner).text(tags::RESPONSIBLE_PERSON_ROLE, VR::CS, "OWNER")
        }
        None => data.empty(tags::RESPONSIBLE_PERSON, VR::PN),
    }
}

/// Study, series, equipment and the instance itself.
pub(super) fn instance(case: &DicomCase, class: &str, instance: &str, series: &Series) -> Data {
    let study = study_uid(case);
    let series_uid = uid(&["series", &study, series.modality, &series.number.to_string()]);
    let data = Data::new()
        .text(tags::SPECIFIC_CHARACTER_SET, VR::CS, "ISO_IR 192")
        .text(tags::SOP_CLASS_UID, VR::UI, class)
        .text(tags::SOP_INSTANCE_UID, VR::UI, instance)
        .text(tags::STUDY_INSTANCE_UID, VR::UI, &study)
        .empty(tags::STUDY_TIME, VR::TM)
        .empty(tags::REFERRING_PHYSICIAN_NAME, VR::PN)
        .empty(tags::ACCESSION_NUMBER, VR::SH)
        .text(tags::STUDY_DESCRIPTION, VR::LO, "Hair shafts under the UV lamp")
        .text(tags::MODALITY, VR::CS, series.modality)
        .text(tags::SERIES_INSTANCE_UID, VR::UI, &series_uid)
        .text(tags::SERIES_NUMBER, VR::IS, &series.number.to_string())
        .text(tags::INSTANCE_NUMBER, VR::IS, &series.instance.to_string())
        .text(tags::MANUFACTURER, VR::LO, "Pilumen")
        .text(tags::MANUFACTURER_MODEL_NAME, VR::LO, "Pilumen")
        .text(tags::DEVICE_SERIAL_NUMBER, VR::LO, "none")
        .text(tags::SOFTWARE_VERSIONS, VR::LO, env!("CARGO_PKG_VERSION"));
    match case.facts.exam_day.or(case.facts.sampled) {
        Some(exam) => data.text(tags::STUDY_DATE, VR::DA, &day(exam)).text(tags::STUDY_ID, VR::SH, &day(exam)),
        None => data.empty(tags::STUDY_DATE, VR::DA).empty(tags::STUDY_ID, VR::SH),
    }
}

/// Where an instance stands in its study.
#[derive(Clone, Copy, Debug)]
pub(super) struct Series {
    pub(super) modality: &'static str,
    pub(super) number: usize,
    pub(super) instance: usize,
}

/// One study an examination: by animal, site and day where they are told, else by its first photo.
pub(super) fn study_uid(case: &DicomCase) -> String {
    let facts = case.facts;
    let animal = facts.animal_number.as_deref().or(facts.animal.as_deref());
    match (animal, facts.exam_day.or(facts.sampled)) {
        (Some(animal), Some(exam)) => {
            let of = |text: &Option<String>| text.clone().unwrap_or_default();
            uid(&["study", &of(&facts.organisation), animal, &of(&facts.site), &exam.to_string()])
        }
        _ => uid(&["study of", case.first_sha256]),
    }
}
