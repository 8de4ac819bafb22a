//! The photo as VL Microscopic Image (PS3.3, A.32.2).

use dicom_core::VR;
use dicom_core::value::PrimitiveValue;
use dicom_dictionary_std::tags;

use super::common::{Series, animal, instance};
use super::data::{Code, Data, DicomError, decimal, plain, uid};
use super::{DicomCase, DicomPhoto};

/// VL Microscopic Image Storage.
pub(super) const CLASS: &str = "1.2.840.10008.5.1.4.1.1.77.1.2";

/// CID 8123.
const EPIFLUORESCENCE: Code = Code("111743", "DCM", "Epifluorescence illumination");
/// CID 8122.
const ULTRAVIOLET: Code = Code("415770004", "SCT", "Ultra-violet color");
/// CID 8101.
const SLIDE: Code = Code("433466003", "SCT", "Microscope slide");

/// The instance's identifier.
pub(super) fn image_uid(case: &DicomCase, photo: &DicomPhoto) -> String {
    uid(&["image", &super::common::study_uid(case), &photo.entry.photo.sha256])
}

/// The photo as a file.
pub(super) fn image(case: &DicomCase, photo: &DicomPhoto) -> Result<Vec<u8>, DicomError> {
    let too_large = |_| DicomError::TooLarge;
    let (columns, rows) = (
        u16::try_from(photo.picture.width).map_err(too_large)?,
        u16::try_from(photo.picture.height).map_err(too_large)?,
    );
    let uid = image_uid(case, photo);
    let series = Series { modality: "GM", number: 1, instance: photo.number };
    let mut pixels = photo.picture.rgb.clone();
    // Values have an even length.
    pixels.resize(pixels.len().next_multiple_of(2), 0);
    let data = animal(case)
        .with(instance(case, CLASS, &uid, &series))
        .value(
            tags::IMAGE_TYPE,
            VR::CS,
            PrimitiveValue::Strs(["ORIGINAL".to_owned(), "PRIMARY".to_owned()].into_iter().collect()),
        )
        .empty(tags::PATIENT_ORIENTATION, VR::CS)
        .number(tags::SAMPLES_PER_PIXEL, 3)
        .text(tags::PHOTOMETRIC_INTERPRETATION, VR::CS, "RGB")
        .number(tags::PLANAR_CONFIGURATION, 0)
        .number(tags::ROWS, rows)
        .number(tags::COLUMNS, columns)
        .number(tags::BITS_ALLOCATED, 8)
        .number(tags::BITS_STORED, 8)
        .number(tags::HIGH_BIT, 7)
        .number(tags::PIXEL_REPRESENTATION, 0)
        .sequence(tags::ACQUISITION_CONTEXT_SEQUENCE, Vec::new())
        .with(lossy(photo))
        .with(specimen(case))
        .sequence(tags::OPTICAL_PATH_SEQUENCE, vec![optical_path(case)])
        .value(tags::PIXEL_DATA, VR::OB, PrimitiveValue::U8(pixels.into()));
    let data = match photo.entry.photo.scale.and_then(|scale| decimal(scale.um_per_px / 1000.0)) {
        // Rows first, then columns, millimetres.
        Some(mm) => {
            data.value(tags::PIXEL_SPACING, VR::DS, PrimitiveValue::Strs([mm.clone(), mm].into_iter().collect()))
        }
        None => data,
    };
    data.file(CLASS, &uid)
}

/// Whether the camera threw something away.
fn lossy(photo: &DicomPhoto) -> Data {
    let was = ["jpeg", "webp"].contains(&photo.entry.photo.format);
    if !was || photo.n_file_bytes == 0 {
        return Data::new().text(tags::LOSSY_IMAGE_COMPRESSION, VR::CS, "00");
    }
    let ratio = photo.picture.rgb.len() as f64 / photo.n_file_bytes as f64;
    let data = Data::new().text(tags::LOSSY_IMAGE_COMPRESSION, VR::CS, "01").text(
        tags::LOSSY_IMAGE_COMPRESSION_RATIO,
        VR::DS,
        &format!("{ratio:.2}"),
    );
    // JPEG alone has a term for its method.
    match photo.entry.photo.format {
        "jpeg" => data.text(tags::LOSSY_IMAGE_COMPRESSION_METHOD, VR::CS, "ISO_10918_1"),
        _ => data,
    }
}

/// The slide, and the hair on it.
fn specimen(case: &DicomCase) -> Data {
    let slide = case.facts.slide.as_deref().map(|slide| plain(slide, 64)).filter(|slide| !slide.is_empty());
    let slide = slide.unwrap_or_else(|| "slide".to_owned());
    let specimen = Data::new()
        .text(tags::SPECIMEN_IDENTIFIER, VR::LO, &slide)
        .text(tags::SPECIMEN_UID, VR::UI, &uid(&["specimen", &super::common::study_uid(case), &slide]))
        .sequence(tags::ISSUER_OF_THE_SPECIMEN_IDENTIFIER_SEQUENCE, Vec::new())
        .text(tags::SPECIMEN_SHORT_DESCRIPTION, VR::LO, "hair pressed on clear tape")
        .sequence(tags::SPECIMEN_PREPARATION_SEQUENCE, Vec::new());
    Data::new()
        .text(tags::CONTAINER_IDENTIFIER, VR::LO, &slide)
        .sequence(tags::ISSUER_OF_THE_CONTAINER_IDENTIFIER_SEQUENCE, Vec::new())
        .sequence(tags::CONTAINER_TYPE_CODE_SEQUENCE, vec![SLIDE.data()])
        .sequence(tags::SPECIMEN_DESCRIPTION_SEQUENCE, vec![specimen])
}

fn optical_path(case: &DicomCase) -> Data {
    let mut profile = srgb_profile();
    profile.resize(profile.len().next_multiple_of(2), 0);
    let path = Data::new()
        .value(tags::ICC_PROFILE, VR::OB, PrimitiveValue::U8(profile.into()))
        .text(tags::OPTICAL_PATH_IDENTIFIER, VR::SH, "1")
        .text(tags::OPTICAL_PATH_DESCRIPTION, VR::ST, "Fluorescence under a long-wave UV lamp")
        .sequence(tags::ILLUMINATION_TYPE_CODE_SEQUENCE, vec![EPIFLUORESCENCE.data()]);
    match case.facts.lamp_nm {
        Some(nm) => path.value(tags::ILLUMINATION_WAVE_LENGTH, VR::FL, PrimitiveValue::from(nm as f32)),
        None => path.sequence(tags::ILLUMINATION_COLOR_CODE_SEQUENCE, vec![ULTRAVIOLET.data()]),
    }
}

/// What the pixels' numbers mean: sRGB, IEC 61966-2-1.
fn srgb_profile() -> Vec<u8> {
    // The library's own profile can be written.
    let mut profile = moxcms::ColorProfile::new_srgb().encode().unwrap_or_default();
    // Bytes 24 to 35 of the header (ICC.1, 7.2.8) are the time it was written; a fixed one, the first day of 2000, so
    // that the same photo gives the same bytes.
    if let Some(time) = profile.get_mut(24..36) {
        time.copy_from_slice(&[0x07, 0xd0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0]);
    }
    profile
}
