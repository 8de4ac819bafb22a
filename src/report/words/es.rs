//! The report in Spanish.

use super::{Found, Words};
use crate::concerns::{Concern, ConcernKind};
use crate::exports::Language;

pub(super) const WORDS: Words = Words {
    finding,
    advice: |code, _| format!("{}{CULTURE}", first_advice(code)),
    concern,
    language: Language::Spanish,
    title: "Pelos bajo la lámpara UV",
    slip_title: "Solicitud de cultivo de hongos",
    teaching_title: "Copia para la enseñanza, sin identidad",
    animal: "Animal",
    animal_number: "Número",
    species: "Especie",
    cat: "gato",
    cat_female: "gata",
    female: "hembra",
    male: "macho",
    neutered: "esterilizado",
    neutered_female: "esterilizada",
    not_neutered: "sin esterilizar",
    born: "nacido el",
    born_female: "nacida el",
    organisation: "A cargo de",
    owner: "Dueño",
    owner_contact: "Contacto del dueño",
    site: "Lugar del cuerpo",
    exam_day: "Examinado el",
    lamp: "Lámpara",
    lamp_seen: "Visto bajo la lámpara",
    skin: "Piel y pelaje",
    treated: "Tratado o bañado",
    sampled: "Muestra del",
    sampling: "Toma de muestra",
    slide: "Preparación",
    laboratory: "Laboratorio",
    sender: "Remitente",
    sender_contact: "Contacto del remitente",
    remark: "Observación",
    photos: "Fotos",
    photo: "Foto",
    in_photo: "foto {n}: {ids}",
    scale: "Escala",
    made_on: "Hecho el",
    not_told: "no consta",
    scale_value: "{um} µm por píxel, {source}",
    scale_unknown: "desconocida; los grosores van en píxeles",
    scale_given: "según el usuario",
    scale_setup: "según el equipo guardado",
    scale_file: "según el archivo",
    finding_head: "Hallazgo",
    sure_head: "Certeza",
    sure_none: "De ningún pelo se juzgó que parezca infectado.",
    sure_range: "Los pelos que parecen infectados se juzgaron así con {range} %.",
    sure_always: "Estas cifras proceden de fotos simuladas; no se sabe con qué frecuencia acierta el programa en animales.",
    next_head: "Qué hacer",
    seen_head: "Qué se vio",
    look: "Aspecto",
    shafts: "Pelos",
    numbers: "Números",
    infected: "parece infectado",
    normal: "parece corriente",
    coated: "parece recubierto",
    fibre: "no es pelo",
    undetermined: "no se puede decir",
    comparison_head: "Frente a pelos corrientes",
    comparison_none: "No había pelo de comparación que parezca corriente.",
    comparison_infected_none: "Ningún pelo parece infectado; no hay nada que comparar.",
    comparison_infected: "parecen infectados ({n})",
    comparison_ordinary: "corrientes, para comparar ({n})",
    width: "Grosor",
    where_glows: "Fluorescencia",
    missed_head: "Lo que no se pudo valorar",
    missed_nothing: "Todos los pelos hallados se pudieron juzgar.",
    missed_undetermined: "{n} de {all} pelos: el programa no puede decir qué parecen ({ids}).",
    missed_more: "Hay {n} notas más en el anexo.",
    missed_shafts: "Pelos {ids}: {message} {advice}",
    missed_shaft: "Pelo {ids}: {message} {advice}",
    missed_unusable: "La foto {file} no se puede juzgar.",
    culture_head: "Solicitud de cultivo",
    culture_text: "Envíe pelo de este lugar para un cultivo de hongos, diga lo que diga esta página: la falta de brillo \
                   nunca descarta una infección, y lo que brilla no siempre es tiña.",
    culture_boxes: "pelo arrancado|pelaje cepillado|cinta|enviado el ____________",
    cautions_head: "Precauciones",
    caution_decision: "Una foto apoya una decisión y nunca la toma. El cultivo confirma; decide el veterinario.",
    caution_light: "No mire nunca a la lámpara; proteja todos los ojos y use gafas que absorban UV.",
    caution_infection: "La tiña se contagia a personas y animales: guantes, manos lavadas, cepillos sin compartir.",
    caution_people: "Niños, mayores y personas con defensas bajas corren más riesgo y guardan distancia.",
    caution_rules: "Las normas de su lugar sobre examen, tratamiento y residuos van primero.",
    photo_caption: "{file}: cada pelo, contorneado y numerado.",
    photo_of_several: "Foto {n} de {all}, la que tiene más pelos que parecen infectados; todas están en el anexo.",
    photo_alt: "La foto {file} con {n} pelos contorneados y numerados según su aspecto.",
    photo_bar: "La barra mide {length}.",
    photo_no_bar: "Sin barra: la escala es desconocida.",
    photo_brighter: "Se muestra {gain} veces más clara que fotografiada.",
    photo_signs: "Un punto es la base y una flecha la punta, donde se conocen. Donde no se pudo medir el grosor, como en \
                  los cruces y cerca de los extremos, solo se dibuja la línea central.",
    course_head: "Evolución en este lugar",
    course_glow: "Fluorescencia de estos",
    course_note: "Que la parte baje no muestra que la infección haya pasado; solo los cultivos lo muestran.",
    course_now: "este informe",
    day: "Día",
    hairs_judged: "Pelos juzgados",
    look_infected: "Parecen infectados",
    remark_column: "Observación",
    annex: "Anexo: cada pelo",
    // A fibre is no hair: numbered, as on the marked photo.
    shaft_head: "Número {n}: {look}",
    strip_alt: "El pelo {n} enderezado, tal como se fotografió.",
    width_chart: "Grosor, {unit}",
    width_chart_alt: "Grosor a lo largo del pelo {n}, de {low} a {high} {unit}.",
    glow_chart_alt: "Fluorescencia a lo largo del pelo {n}, de {low} a {high} de la luz plena.",
    axis_along: "a lo largo, µm",
    axis_along_px: "a lo largo, px",
    length: "Longitud visible",
    ends: "Extremos",
    base: "base {end}",
    tip: "punta {end}",
    end_root: "con raíz",
    end_broken: "rota",
    end_cut: "cortada",
    end_outside: "fuera de la foto",
    end_unknown: "no consta",
    end_tapered: "afilada",
    orientation: "Base y punta",
    orientation_given: "indicadas",
    orientation_measured: "medidas",
    orientation_unknown: "no se sabe cuál es cuál",
    glow_share: "Parte que brilla",
    probability: "Probabilidad",
    plausible: "No descartado al 90 %",
    novelty: "Diferencia con pelos conocidos",
    nearest: "Los pelos de referencia más parecidos (simulados, o de su propio registro)",
    nearest_one: "{look} ({kind}), distancia {distance}",
    reasons_head: "Lo que más habló por este aspecto",
    no_reference: "ninguno",
    notes: "Notas",
    no_shafts: "No se halló ningún pelo.",
    methods_head: "Métodos",
    methods_find: "Se busca pelo donde la luz sobresale del ruido del fondo, y se sigue a través de los cruces.",
    methods_width: "El grosor es el diámetro exterior: lo que habría dado un cilindro de ese diámetro, desenfocado por \
                    esta óptica. ± es una incertidumbre típica. Un punto es una estación; un hueco no se pudo medir.",
    methods_glow: "La claridad es la luz sobre el fondo en luz lineal, media de los canales, incluido el débil brillo \
                   propio de todo pelo; frente al fondo se divide por el contiguo. «Brilla» quiere decir más que el brillo \
                   propio de un pelo corriente.",
    methods_look: "El aspecto lo suman árboles sobre medidas con nombre, calibrados; si quedan dos aspectos posibles, si \
                   el pelo no se parece a ninguno conocido o si la foto no sirve, el programa dice que no puede decirlo.",
    methods_novelty: "Diferencia con pelos conocidos: 1 es tan lejos de los pelos de referencia como el 99 % de ellos \
                      entre sí.",
    methods_finding: "El hallazgo cuenta los aspectos en todas las fotos útiles según una tabla fija de pasos.",
    limits_head: "Límites",
    limits_simulated: "El juicio se formó con fotos simuladas. No hay exactitud publicada para este uso, ni medida aquí \
                       en casos confirmados.",
    limits_fungi: "Varios hongos de la tiña no brillan en el pelo; medicinas, jabón, caspa y fibras textiles sí pueden.",
    limits_photo: "Enfoque, exposición, luz de la sala y compresión cambian lo que se puede medir; vea las notas.",
    limits_width: "Los grosores valen para pelos de más de unos tres píxeles.",
    program_head: "Programa y archivos",
    version: "Programa",
    model_digest: "Modelo, SHA-256",
    photo_digest: "{file}, SHA-256",
    settings: "Fijado por el usuario",
    settings_none: "nada",
    photo_facts: "{w} × {h} píxeles, {format}",
    captured: "tomada {when}, reloj de la cámara",
    camera: "cámara {camera}",
    footer: "Apoya una decisión, nunca la toma. Envíe pelo para un cultivo de hongos.",
    page: "Página {n} de {all}",
    translit: "Entre ‹ › van letras que faltan en el tipo de esta página, escritas con letras latinas.",
    slip_intro: "Se ruega cultivar el material adjunto para dermatofitos.",
    slip_material: "Material",
    slip_material_lines: "pelo arrancado|cepillado|cinta adhesiva|escama o costra|otro: ________________",
    slip_ask: "Se pide",
    slip_ask_default: "Cultivo de hongos, mantenido su tiempo completo, con identificación de lo que crezca.",
    slip_answer: "Respuesta a",
    slip_sign: "Fecha y firma",
    slip_photo: "De fotos de una preparación en cinta bajo la lámpara UV, leídas por un programa que apoya y nunca toma \
                 una decisión:",
    slip_lab_use: "Para el laboratorio",
    slip_lab_lines: "recibido el|número|medio y temperatura|primer crecimiento el|identificado como|cerrado el",
    slip_handling: "Puede llevar tiña, que infecta a personas: mantener cerrado, usar guantes, seguir sus normas sobre \
                    muestras infecciosas.",
};

/// Ends every finding.
const CULTURE: &str = "Envíe pelo para un cultivo de hongos y deje que decida su veterinario.";

/// The finding, by the same table of steps as the English one.
fn finding(found: &Found) -> String {
    let code = found.slide.code;
    let mut parts = vec![opening(found)];
    if !matches!(code, "not-usable" | "no-shaft" | "fibre-only") {
        parts.push(comparison(found));
    }
    if !matches!(code, "looks-infected-many" | "looks-infected-few" | "not-usable") {
        parts.push("La falta de fluorescencia nunca descarta una infección.".into());
    }
    parts.push(CULTURE.into());
    parts.join(" ")
}

fn opening(found: &Found) -> String {
    let [_, _, coated, fibres] = found.slide.counts;
    let judged: usize = found.slide.counts.iter().sum();
    let hairs = judged - fibres;
    let of_judged = format!("{hairs} {}", if hairs == 1 { "pelo juzgado" } else { "pelos juzgados" });
    let number = |n: usize, one: &'static str, many: &'static str| if n == 1 { one } else { many };
    let infected = format!(
        "{} de {of_judged} {} de infectado",
        found.infected,
        number(found.infected, "tiene aspecto", "tienen aspecto")
    );
    let place = match (found.from_base, found.infected) {
        (0, _) => "no se pudo decir, de la base a la punta, dónde brillan".to_owned(),
        (1, 1) => "brilla desde la base o en toda su longitud".to_owned(),
        (some, all) if some == all => "brillan desde la base o en toda su longitud".to_owned(),
        (some, _) => format!("{some} de ellos, desde la base o en toda su longitud"),
    };
    match found.slide.code {
        "looks-infected-many" => format!("{infected}; {place}."),
        "looks-infected-few" => format!("{infected}; {place}. Tan pocos son un indicio débil."),
        "doubtful" if found.infected == 1 => {
            format!("{infected}. Uno solo entre tantos puede ser un pelo mal juzgado: el programa no puede decirlo.")
        }
        "doubtful" => {
            // Otherwise so many are not unsaid, and the finding is doubtful since one of them leans to infected.
            let leaning = match found.slide.undetermined {
                unsaid if judged == 0 || unsaid > judged => "",
                1 => "; su aspecto más probable es el de infectado",
                _ => "; el aspecto más probable de al menos uno es el de infectado",
            };
            let all = judged + found.slide.undetermined;
            let unsaid = number(found.slide.undetermined, "no se pudo juzgar 1", "no se pudieron juzgar {}");
            let unsaid = unsaid.replace("{}", &found.slide.undetermined.to_string());
            format!("El programa no puede decirlo: {unsaid} de {all} pelos{leaning}.")
        }
        "tip-only" => format!(
            "{} {} solo hacia la punta. Así se ve cuando una lesión va saliendo con el pelo; no muestra que la infección \
             haya pasado.",
            found.tip_only,
            number(found.tip_only, "pelo brilla", "pelos brillan")
        ),
        "coated-only" => format!(
            "Ningún pelo parece infectado; {coated} de {of_judged} {} recubierto, y una capa puede ocultar o imitar la \
             fluorescencia.",
            number(coated, "parece", "tienen aspecto de")
        ),
        "ordinary-only" if found.slide.undetermined > 0 => format!(
            "Ningún pelo parece infectado: {of_judged}, todos de aspecto corriente; {} más no se pudieron juzgar.",
            found.slide.undetermined
        ),
        "ordinary-only" => format!("Ningún pelo parece infectado: {of_judged}, todos de aspecto corriente."),
        "fibre-only" => "Solo se hallaron fibras que no son pelo.".into(),
        "no-shaft" => "No se halló ningún pelo.".into(),
        "not-usable" => "La foto no se puede juzgar.".into(),
        // A finding of a later table: better its own words than none.
        _ => found.slide.sentence.clone(),
    }
}

fn comparison(found: &Found) -> String {
    match (found.comparison, found.comparison_ordinary) {
        (0, _) => "No había pelo de comparación con que juzgar.".into(),
        (1, 1) => "El pelo de comparación parece corriente.".into(),
        (2, 2) => "Ambos pelos de comparación parecen corrientes.".into(),
        (all, ordinary) if all == ordinary => format!("Los {all} pelos de comparación parecen corrientes."),
        (1, 0) => "El pelo de comparación no parece corriente, lo que debilita el hallazgo.".into(),
        (all, ordinary) => {
            format!("Solo {ordinary} de {all} pelos de comparación parecen corrientes, lo que debilita el hallazgo.")
        }
    }
}

fn first_advice(code: &str) -> &'static str {
    match code {
        "looks-infected-many" | "looks-infected-few" => {
            "Hasta que llegue el cultivo, mantenga aparte al animal, use guantes y lave aquello donde haya estado. "
        }
        "doubtful" => {
            "Mantenga aparte al animal y use guantes hasta que el cultivo o su veterinario digan más. \
             Tome más pelos del borde de la lesión, con pelos corrientes al lado, y fotografíe de nuevo. "
        }
        "tip-only" => "Compare con fotos anteriores del mismo lugar y fotografíelo otra vez en una o dos semanas. ",
        "coated-only" => {
            "Pregunte qué se puso en el pelaje; fotografíe otra vez unos días después de lavar, si el veterinario lo ve \
             bien. "
        }
        "ordinary-only" => "Repase con la lámpara todo el animal y tome pelos de donde algo brille o falte pelo. ",
        "fibre-only" | "no-shaft" => {
            "Apriete otra vez la cinta sobre el lugar para que salga pelo, y fotografíe de nuevo. "
        }
        _ => "Repita la foto como dicen las notas. ",
    }
}

fn concern(concern: &Concern) -> [String; 2] {
    let percent = concern.value.map_or(String::new(), |share| format!(" ({:.0} %)", share * 100.0));
    let pixels =
        concern.value.map_or(String::new(), |px| format!(" (desenfoque de unos {px:.1} píxeles)").replace('.', ","));
    let (message, advice) = match concern.kind {
        ConcernKind::OutOfFocus => {
            (format!("La foto está desenfocada{pixels}."), "Enfoque los bordes de los pelos y repita la foto.")
        }
        ConcernKind::TooDark => (
            "La foto es demasiado oscura para comparar la fluorescencia.".into(),
            "Use una exposición más larga o acerque la lámpara, y repita la foto.",
        ),
        ConcernKind::Clipped => (
            format!("Partes de la foto son demasiado claras para leerlas{percent}."),
            "Use una exposición más corta, para que el pelo más brillante no quede blanco.",
        ),
        ConcernKind::VisibleLight => (
            "La foto parece iluminada con luz visible, no solo con la lámpara UV.".into(),
            "Oscurezca la sala, deje solo la lámpara UV y repita la foto.",
        ),
        ConcernKind::NoShaft => (
            "No se halló ningún pelo.".into(),
            "Compruebe que haya pelos bajo la cinta a la vista; si los hay, enfoque e ilumine de nuevo.",
        ),
        ConcernKind::NoComparison => (
            "No se halló en esta foto ningún pelo corriente de comparación.".into(),
            "Ponga unos pelos corrientes del mismo animal junto a los que brillan.",
        ),
        ConcernKind::ScaleUnknown => (
            "La escala es desconocida; los grosores se dan solo en píxeles.".into(),
            "Indique los micrómetros por píxel, medidos una vez con un micrómetro de platina para este objetivo y cámara.",
        ),
        ConcernKind::TooSmall => (
            "La foto es demasiado pequeña para medir pelos.".into(),
            "Envíe la foto tal como la guardó la cámara, no una miniatura.",
        ),
        ConcernKind::Monochrome => (
            "La foto no tiene color; no se conoce el color de la fluorescencia.".into(),
            "Use una cámara en color o un teléfono en el ocular.",
        ),
        ConcernKind::Crowded => (
            "Hay más en la cinta de lo que se puede distinguir.".into(),
            "Ponga menos pelos en una cinta nueva, separados.",
        ),
        ConcernKind::SeveralPictures => (
            "El archivo tiene varias imágenes; solo se leyó la primera.".into(),
            "Guarde las demás imágenes en archivos propios si importan.",
        ),
        ConcernKind::StronglyCompressed => (
            "El archivo está tan comprimido que se pierde la estructura fina.".into(),
            "Envíe la foto tal como la guardó la cámara, no por mensajería.",
        ),
        ConcernKind::TooThin => (
            "El pelo es demasiado fino o borroso para esta foto: no se puede decir su grosor, solo su máximo.".into(),
            "Use un objetivo más potente y enfoque este pelo.",
        ),
        ConcernKind::Partial => (
            "Solo una parte del pelo está en la foto.".into(),
            "Mueva la preparación para que se vea el pelo entero, de la raíz a la punta.",
        ),
        ConcernKind::FewStations => (
            "Queda libre demasiado poco del pelo para medirlo bien.".into(),
            "Separe los pelos para que no estén unos sobre otros.",
        ),
        ConcernKind::ShaftClipped => (
            format!("El pelo es demasiado claro para leerlo{percent}."),
            "Use una exposición más corta para este pelo.",
        ),
        ConcernKind::Novel => (
            "El pelo no se parece a ninguno que el programa conozca.".into(),
            "Mírelo usted; no se fíe del programa para este pelo.",
        ),
        ConcernKind::MaybeNoShaft => (
            "Puede que esto no sea ni pelo ni fibra.".into(),
            "Mírelo usted: ¿se ramifica, es un borde, una grieta o un arañazo?",
        ),
        ConcernKind::DoubtfulCrossing => (
            "El pelo puede estar mal unido donde se cruzan pelos.".into(),
            "Mire el contorno en la foto marcada antes de usar sus números.",
        ),
        _ => return scale_concern(concern),
    };
    [message, advice.to_owned()]
}

/// The concerns about the scale.
fn scale_concern(concern: &Concern) -> [String; 2] {
    let with = |before: &str, decimals: usize, after: &str| {
        let number = |value: f64| format!("{value:.decimals$}").replace('.', ",");
        concern.value.map_or(String::new(), |value| format!("{before}{}{after}", number(value)))
    };
    let percent = concern.value.map_or(String::new(), |share| format!(" ({:.0} %)", share * 100.0));
    let (message, advice) = match concern.kind {
        ConcernKind::SetupOtherSize => (
            format!(
                "La foto tiene otro tamaño que las fotos con que se midió la escala de su equipo{}.",
                with(" (si se redujo, valdrían ", 4, " µm por píxel)")
            ),
            "Lea la foto tal como la guardó la cámara, o mida un equipo con fotos de este tamaño.",
        ),
        ConcernKind::ScalesDisagree => (
            format!("El archivo indica otra escala que la que se usa{}.", with(" (", 4, " µm por píxel)")),
            "Compruebe que el equipo o el número indicado corresponda a esta foto.",
        ),
        ConcernKind::ShortSpan => (
            format!("Las líneas cubren poco de la foto{percent}; la escala es menos exacta."),
            "Fotografíe el micrómetro de modo que sus líneas crucen toda la foto.",
        ),
        ConcernKind::Distorted => {
            let largest = concern.value.map_or(String::new(), |share| format!(", hasta un {:.1} %", share * 100.0));
            (format!("La escala varía dentro de la foto{largest}."), "Ponga los pelos que importan cerca del centro.")
        }
        ConcernKind::NotSquare => (
            format!("Los píxeles no son cuadrados{}.", with(" (", 4, " de ancho a alto)")),
            "Compruebe que ni la cámara ni un programa hayan estirado la foto.",
        ),
        ConcernKind::SquarenessUnknown => (
            "Todas las líneas van casi en una dirección; no se sabe si los píxeles son cuadrados.".into(),
            "Gire el micrómetro un cuarto de vuelta y dé una segunda foto junto con la primera.",
        ),
        ConcernKind::CoarsePixels => (
            format!("Los píxeles son más gruesos que lo que muestra la lente{}.", with(" (harían falta ", 3, " µm)")),
            "Use toda la resolución de la cámara o un adaptador más potente.",
        ),
        ConcernKind::ShallowFocus => (
            format!(
                "La lente tiene menos profundidad enfocada que el grosor de un pelo{}.",
                with(" (unos ", 1, " µm)")
            ),
            "Enfoque los bordes del pelo, o tome varias fotos con distinto enfoque.",
        ),
        // All others have words of their own; a new one is seen by the test that holds the languages equal.
        _ => return [concern.message(), concern.advice().to_owned()],
    };
    [message, advice.to_owned()]
}
