//! The measurements as a structured report, TID 1500 (PS3.16), in a Comprehensive SR (PS3.3, A.35.3).
//!
//! One measurement group a shaft. Published codes are those that were verified; the look, the zone and other words of
//! this program are coded in its own private scheme.

use dicom_core::VR;
use dicom_core::value::PrimitiveValue;
use dicom_dictionary_std::tags;

use super::common::{Series, animal, day, instance, study_uid};
use super::data::{Code, Data, DicomError, OWN, decimal, uid};
use super::image::{self, image_uid};
use super::{DicomCase, DicomPhoto};
use crate::exports::from_record::{Entry, Look, Shaft};
use crate::exports::rounded::{measurement, probabilities};

/// Comprehensive SR Storage.
const CLASS: &str = "1.2.840.10008.5.1.4.1.1.88.33";

const REPORT: Code = Code("126000", "DCM", "Imaging Measurement Report");
const LANGUAGE: Code = Code("121049", "DCM", "Language of Content Item and Descendants");
const ENGLISH: Code = Code("en", "RFC5646", "English");
const OBSERVER_TYPE: Code = Code("121005", "DCM", "Observer Type");
const DEVICE: Code = Code("121007", "DCM", "Device");
const DEVICE_UID: Code = Code("121012", "DCM", "Device Observer UID");
const DEVICE_NAME: Code = Code("121013", "DCM", "Device Observer Name");
const PROCEDURE: Code = Code("121058", "DCM", "Procedure reported");
const LAMP_EXAM: Code = Code("lamp-exam", OWN, "Reading of hair shafts under a UV lamp");
const LIBRARY: Code = Code("111028", "DCM", "Image Library");
const LIBRARY_GROUP: Code = Code("126200", "DCM", "Image Library Group");
const MEASUREMENTS: Code = Code("126010", "DCM", "Imaging Measurements");
const GROUP: Code = Code("125007", "DCM", "Measurement Group");
const TRACKING: Code = Code("112039", "DCM", "Tracking Identifier");
const TRACKING_UID: Code = Code("112040", "DCM", "Tracking Unique Identifier");
const SOURCE: Code = Code("121112", "DCM", "Source of Measurement");
const FINDING: Code = Code("121071", "DCM", "Finding");
const HAIR: Code = Code("386045008", "SCT", "Hair");
const DIAMETER: Code = Code("81827009", "SCT", "Diameter");
const LENGTH: Code = Code("410668003", "SCT", "Length");
const COMMENT: Code = Code("121106", "DCM", "Comment");

/// This program's own concepts.
const LOOK: Code = Code("look", OWN, "Look of the shaft");
const ZONE: Code = Code("zone", OWN, "Where along the shaft it fluoresces");
const DIAMETER_SD: Code = Code("width-sd", OWN, "Standard uncertainty of the diameter");
const GLOW_CONTRAST: Code = Code("glow-contrast", OWN, "Fluorescence over the background");
const PROBABILITY: Code = Code("probability", OWN, "Probability of the look that was told");

const MICROMETRE: Code = Code("um", "UCUM", "um");
const PIXEL: Code = Code("{pixel}", "UCUM", "pixel");
const RATIO: Code = Code("1", "UCUM", "no units");

/// The measurements of a photo as a file.
pub(super) fn measured(case: &DicomCase, photo: &DicomPhoto) -> Result<Vec<u8>, DicomError> {
    let uid = uid(&["measurements", &image_uid(case, photo), &photo.entry.program.model_sha256]);
    let series = Series { modality: "SR", number: 2, instance: photo.number };
    let entry = photo.entry;
    let mut measurements: Vec<Data> = entry.shafts.iter().map(|shaft| group(case, photo, shaft)).collect();
    let finding = format!("{} {}", entry.slide.sentence, entry.advice);
    measurements.push(text(COMMENT, &finding));
    let content = vec![
        code(LANGUAGE, ENGLISH, "HAS CONCEPT MOD"),
        code(OBSERVER_TYPE, DEVICE, "HAS OBS CONTEXT"),
        item("UIDREF", DEVICE_UID, "HAS OBS CONTEXT").text(tags::UID, VR::UI, &device_uid(entry)),
        item("TEXT", DEVICE_NAME, "HAS OBS CONTEXT").text(
            tags::TEXT_VALUE,
            VR::UT,
            &format!("Pilumen {}", entry.program.version),
        ),
        code(PROCEDURE, LAMP_EXAM, "HAS CONCEPT MOD"),
        container(LIBRARY, vec![container(LIBRARY_GROUP, vec![image_item(case, photo, "CONTAINS", None)])]),
        container(MEASUREMENTS, measurements),
    ];
    let template =
        Data::new().text(tags::MAPPING_RESOURCE, VR::CS, "DCMR").text(tags::TEMPLATE_IDENTIFIER, VR::CS, "1500");
    animal(case)
        .with(instance(case, CLASS, &uid, &series))
        .sequence(tags::REFERENCED_PERFORMED_PROCEDURE_STEP_SEQUENCE, Vec::new())
        .text(tags::COMPLETION_FLAG, VR::CS, "COMPLETE")
        .text(tags::VERIFICATION_FLAG, VR::CS, "UNVERIFIED")
        .text(tags::CONTENT_DATE, VR::DA, &day(case.made_on))
        .text(tags::CONTENT_TIME, VR::TM, "000000")
        .sequence(tags::PERFORMED_PROCEDURE_CODE_SEQUENCE, Vec::new())
        .sequence(tags::CURRENT_REQUESTED_PROCEDURE_EVIDENCE_SEQUENCE, vec![evidence(case, photo)])
        .sequence(tags::CODING_SCHEME_IDENTIFICATION_SEQUENCE, vec![own_scheme()])
        .text(tags::VALUE_TYPE, VR::CS, "CONTAINER")
        .sequence(tags::CONCEPT_NAME_CODE_SEQUENCE, vec![REPORT.data()])
        .text(tags::CONTINUITY_OF_CONTENT, VR::CS, "SEPARATE")
        .sequence(tags::CONTENT_TEMPLATE_SEQUENCE, vec![template])
        .sequence(tags::CONTENT_SEQUENCE, content)
        .file(CLASS, &uid)
}

/// One shaft, TID 1501.
fn group(case: &DicomCase, photo: &DicomPhoto, shaft: &Shaft) -> Data {
    let entry = photo.entry;
    let id = uid(&["shaft", &image_uid(case, photo), &shaft.id.to_string()]);
    let mut content = vec![
        item("TEXT", TRACKING, "HAS OBS CONTEXT").text(tags::TEXT_VALUE, VR::UT, &format!("shaft {}", shaft.id)),
        item("UIDREF", TRACKING_UID, "HAS OBS CONTEXT").text(tags::UID, VR::UI, &id),
        code(FINDING, HAIR, "CONTAINS"),
    ];
    let scaled = entry.photo.scale;
    let unit = if scaled.is_some() { MICROMETRE } else { PIXEL };
    // Of a shaft too thin for the photo nobody knows the diameter, and a number without its caution would be taken for
    // one.
    let told =
        |um: Option<f64>, px: Option<f64>| if scaled.is_some() { um } else { px }.filter(|_| !shaft.is_too_thin());
    let width = told(shaft.width.median_um, shaft.width.median_px);
    let sd = told(shaft.width.sd_um, shaft.width.sd_px);
    let length = scaled.map_or(shaft.length_px, |scale| scale.um_from_px(shaft.length_px));
    let source = || image_item(case, photo, "INFERRED FROM", Some(SOURCE));
    content.extend(
        number(LENGTH, Some(length), unit)
            .map(|data| data.sequence(tags::CONTENT_SEQUENCE, vec![centreline(case, photo, shaft)])),
    );
    content.extend(number(DIAMETER, width, unit).map(|data| data.sequence(tags::CONTENT_SEQUENCE, vec![source()])));
    content.extend(number(DIAMETER_SD, sd, unit));
    content.extend(number(GLOW_CONTRAST, shaft.glow.contrast, RATIO));
    let told =
        shaft.look.map(|look| probabilities(shaft.probability)[Look::ALL.iter().position(|l| *l == look).unwrap_or(0)]);
    content.extend(number(PROBABILITY, told, RATIO));
    content.push(code(LOOK, look_code(shaft), "CONTAINS"));
    content.push(code(ZONE, zone_code(shaft), "CONTAINS"));
    container(GROUP, content)
}

/// A measurement, TID 300; `None` where nothing was measured.
fn number(concept: Code, value: Option<f64>, unit: Code) -> Option<Data> {
    let value = decimal(measurement(value?)?)?;
    let measured = Data::new()
        .text(tags::NUMERIC_VALUE, VR::DS, &value)
        .sequence(tags::MEASUREMENT_UNITS_CODE_SEQUENCE, vec![unit.data()]);
    Some(item("NUM", concept, "CONTAINS").sequence(tags::MEASURED_VALUE_SEQUENCE, vec![measured]))
}

/// The line that a length was measured along. DICOM counts from the corner of the top-left pixel.
fn centreline(case: &DicomCase, photo: &DicomPhoto, shaft: &Shaft) -> Data {
    let [across, down] = photo.picture.shrink;
    let places = shaft.centreline.iter().flat_map(|at| [(at.x + 0.5) / across, (at.y + 0.5) / down]);
    let places: Vec<f32> = places.map(|place| place as f32).collect();
    item("SCOORD", SOURCE, "INFERRED FROM")
        .text(tags::GRAPHIC_TYPE, VR::CS, "POLYLINE")
        .value(tags::GRAPHIC_DATA, VR::FL, PrimitiveValue::F32(places.into()))
        .sequence(tags::CONTENT_SEQUENCE, vec![image_item(case, photo, "SELECTED FROM", None)])
}

fn item(kind: &str, concept: Code, relation: &str) -> Data {
    Data::new()
        .text(tags::RELATIONSHIP_TYPE, VR::CS, relation)
        .text(tags::VALUE_TYPE, VR::CS, kind)
        .sequence(tags::CONCEPT_NAME_CODE_SEQUENCE, vec![concept.data()])
}

fn code(concept: Code, value: Code, relation: &str) -> Data {
    item("CODE", concept, relation).sequence(tags::CONCEPT_CODE_SEQUENCE, vec![value.data()])
}

fn text(concept: Code, words: &str) -> Data {
    let words: String = words.chars().filter(|c| !c.is_control()).collect();
    item("TEXT", concept, "CONTAINS").text(tags::TEXT_VALUE, VR::UT, &words)
}

fn container(concept: Code, content: Vec<Data>) -> Data {
    item("CONTAINER", concept, "CONTAINS")
        .text(tags::CONTINUITY_OF_CONTENT, VR::CS, "SEPARATE")
        .sequence(tags::CONTENT_SEQUENCE, content)
}

fn image_item(case: &DicomCase, photo: &DicomPhoto, relation: &str, concept: Option<Code>) -> Data {
    let data = match concept {
        Some(concept) => item("IMAGE", concept, relation),
        None => Data::new().text(tags::RELATIONSHIP_TYPE, VR::CS, relation).text(tags::VALUE_TYPE, VR::CS, "IMAGE"),
    };
    data.sequence(tags::REFERENCED_SOP_SEQUENCE, vec![reference(case, photo)])
}

/// The image as others refer to it.
pub(super) fn reference(case: &DicomCase, photo: &DicomPhoto) -> Data {
    Data::new().text(tags::REFERENCED_SOP_CLASS_UID, VR::UI, image::CLASS).text(
        tags::REFERENCED_SOP_INSTANCE_UID,
        VR::UI,
        &image_uid(case, photo),
    )
}

fn evidence(case: &DicomCase, photo: &DicomPhoto) -> Data {
    let study = study_uid(case);
    let series = Data::new()
        .text(tags::SERIES_INSTANCE_UID, VR::UI, &uid(&["series", &study, "GM", "1"]))
        .sequence(tags::REFERENCED_SOP_SEQUENCE, vec![reference(case, photo)]);
    Data::new().text(tags::STUDY_INSTANCE_UID, VR::UI, &study).sequence(tags::REFERENCED_SERIES_SEQUENCE, vec![series])
}

fn own_scheme() -> Data {
    Data::new().text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, OWN).text(
        tags::CODING_SCHEME_NAME,
        VR::ST,
        "Words of the program Pilumen, private",
    )
}

/// The program with its model.
fn device_uid(entry: &Entry) -> String {
    uid(&["program", &entry.program.version, &entry.program.model_sha256])
}

fn look_code(shaft: &Shaft) -> Code {
    match shaft.class() {
        "infected" => Code("infected", OWN, "looks infected"),
        "normal" => Code("normal", OWN, "looks ordinary"),
        "coated" => Code("coated", OWN, "looks coated"),
        "fibre" => Code("fibre", OWN, "not hair"),
        _ => Code("undetermined", OWN, "cannot say"),
    }
}

fn zone_code(shaft: &Shaft) -> Code {
    match shaft.zone {
        "none" => Code("none", OWN, "no glow above an ordinary shaft's"),
        "base" => Code("base", OWN, "from the base"),
        "whole" => Code("whole", OWN, "all along"),
        "tip" => Code("tip", OWN, "towards the tip"),
        "patchy" => Code("patchy", OWN, "in patches"),
        _ => Code("unknown", OWN, "cannot be told"),
    }
}
