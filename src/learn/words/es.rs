//! The words of plates and practice in Spanish.

use super::super::callouts::Part;
use super::super::plates::Group;
use super::{Phrase, PlateWords};

pub(super) const PLATES: &[(&str, PlateWords)] = &[
    (
        "guard",
        PlateWords {
            title: "Pelo de guarda corriente",
            look_for: &[
                "El pelo más grueso del manto: de 40 a 80 µm. El borde es regular y nítido a ambos lados.",
                "Con luz visible, una banda oscura recorre el centro: la médula, llena de aire. Ocupa más de un tercio del grosor.",
                "Bajo la lámpara el pelo tiene un brillo propio débil, regular y azulado, igual de la base a la punta.",
            ],
            mistaken: &[
                "Grueso no quiere decir infectado. Compárelo con otros pelos de guarda del mismo gato, nunca con borra.",
            ],
        },
    ),
    (
        "awn",
        PlateWords {
            title: "Pelo intermedio corriente",
            look_for: &[
                "Entre guarda y borra: de 25 a 40 µm. Algo más grueso antes de la punta, luego muy fino.",
                "Médula sin interrupción, parecida a una escalera, y brillo propio regular.",
            ],
            mistaken: &[
                "El engrosamiento antes de la punta no es una vaina: allí el borde sigue liso y nada brilla más que en otra parte.",
            ],
        },
    ),
    (
        "down",
        PlateWords {
            title: "Borra corriente",
            look_for: &[
                "El pelo más fino y numeroso: de 10 a 20 µm, ondulado, casi del mismo grosor en todas partes.",
                "Puede tener médula o no; los libros no coinciden.",
            ],
            mistaken: &[
                "Se toma por fibra textil. Una fibra está cortada en sus extremos y brilla en azul vivo; la borra tiene raíz y punta fina.",
            ],
        },
    ),
    (
        "root-and-tip",
        PlateWords {
            title: "Raíz y punta: cuál es cuál",
            look_for: &[
                "El extremo de la raíz es romo o algo hinchado. El pigmento y la médula acaban antes de él.",
                "La punta se afina poco a poco en un tramo largo, salvo que esté cortada o rota.",
                "Los bordes libres de las escamas apuntan a la punta.",
            ],
            mistaken: &[
                "Una punta rota tomada por raíz: la rotura es desigual y tan ancha como el pelo; la médula llega hasta ella.",
            ],
        },
    ),
    (
        "white",
        PlateWords {
            title: "Pelo blanco",
            look_for: &[
                "El pelo blanco brilla por sí mismo, de azul a blanco azulado y por igual en todo su largo.",
                "El borde y la médula son los de cualquier pelo corriente.",
            ],
            mistaken: &[
                "Se toma fácilmente por infectado, porque brilla. El pelo infectado brilla más verde, lleva esporas y parece deshecho; compárelo con otros pelos blancos del gato.",
            ],
        },
    ),
    (
        "yellowed",
        PlateWords {
            title: "Pelo blanco amarillento",
            look_for: &[
                "El brillo del pelo blanco viejo o amarillento se acerca al verde: una parte está donde está el brillo de la tiña.",
                "Es regular, y la estructura está entera.",
            ],
            mistaken: &[
                "El color solo no lo distingue de un pelo infectado. Mire el borde, la médula y dónde está el brillo.",
            ],
        },
    ),
    (
        "tabby",
        PlateWords {
            title: "Pelo atigrado",
            look_for: &[
                "Bandas claras y oscuras en un mismo pelo: las claras brillan más, las oscuras menos.",
                "Con luz visible las mismas bandas son claras y oscuras.",
            ],
            mistaken: &[
                "Se toma por infección a manchas. Las bandas siguen al pigmento; el grosor no cambia con ellas.",
            ],
        },
    ),
    (
        "black",
        PlateWords {
            title: "Pelo negro",
            look_for: &[
                "El pigmento se traga el brillo: bajo la lámpara el pelo queda casi oscuro.",
                "Con luz visible es de pardo oscuro a negro entero, y la médula se distingue mal. Hacia la raíz hay menos pigmento y más brillo.",
            ],
            mistaken: &[
                "Un pelo oscuro junto a otros que brillan no tiene por qué estar infectado. Y un brillo débil de infección puede pasarse por alto en pelo negro.",
            ],
        },
    ),
    (
        "infected-early",
        PlateWords {
            title: "Infectado, primera semana: brilla la base",
            look_for: &[
                "El bulbo y la parte baja brillan en verde o verde azulado; el resto tiene solo el débil brillo propio del pelo.",
                "Donde brilla, el pelo es más grueso: lleva un manguito granuloso de esporas y el borde es desigual.",
                "Donde está el manguito ya no se ve la médula.",
            ],
            mistaken: &[
                "Una mancha de pomada junto a la raíz. La pomada forma una película lisa, a menudo también al lado del pelo, y el pelo debajo está entero.",
            ],
        },
    ),
    (
        "infected-whole",
        PlateWords {
            title: "Infectado, desde la segunda semana: brilla entero",
            look_for: &[
                "Brilla todo el pelo, más y más verde que el pelo corriente de al lado. Cuánto verde varía: los autores escriben verde manzana, verde azulado, verde amarillento.",
                "Es más grueso que el pelo de comparación de su clase; la vaina puede doblar el grosor.",
                "La superficie es granulosa y desigual; ya no se distinguen cutícula, corteza y médula.",
            ],
            mistaken: &[
                "La fibra verde de alfombra y la tetraciclina pueden ser igual de verdes. La fibra es lisa y de grosor constante; bajo una medicina la estructura del pelo está entera.",
            ],
        },
    ),
    (
        "infected-patchy",
        PlateWords {
            title: "Infectado a manchas",
            look_for: &[
                "Tramos que brillan y son más gruesos, con tramos desnudos entre ellos: grupos de esporas antes de que haya una vaina entera.",
                "El grosor y el brillo suben y bajan juntos a lo largo del pelo.",
            ],
            mistaken: &[
                "La caspa y la comida también están a manchas. Se apoyan en un pelo regular: mire su borde entre las manchas y debajo de ellas.",
                "Las bandas del atigrado: siguen al pigmento y el grosor no cambia.",
            ],
        },
    ),
    (
        "infected-broken",
        PlateWords {
            title: "Infectado y roto, corto",
            look_for: &[
                "Un trozo corto y grueso que brilla, con un extremo desigual: el pelo debilitado se rompió.",
                "De grosor parecido hasta la rotura, a menudo algo curvo.",
            ],
            mistaken: &[
                "Pelo que el gato se arrancó lamiendo o rascando: también se rompe, pero está entero, la rotura es más limpia y nada brilla.",
            ],
        },
    ),
    (
        "tip-only",
        PlateWords {
            title: "Solo brilla la punta: lo que queda tras la recuperación",
            look_for: &[
                "El pelo siguió creciendo; su base nueva es corriente y la punta vieja aún brilla.",
                "Sin manguito; médula y borde enteros.",
            ],
            mistaken: &[
                "No es simplemente infectado, ni tampoco nada: cuenta que hubo una infección. Solo los cultivos muestran si ha pasado.",
            ],
        },
    ),
    (
        "soap",
        PlateWords {
            title: "Película de jabón o champú",
            look_for: &[
                "Una película fina azulada, casi regular, más clara en los bordes, sobre un pelo de estructura entera.",
                "Los pelos vecinos pueden llevarla también; el de abajo está desnudo aquí, para comparar.",
            ],
            mistaken: &[
                "Pelo blanco, o una infección que brilla entera. La película es lisa y azulada, y la médula se ve a través.",
            ],
        },
    ),
    (
        "ointment",
        PlateWords {
            title: "Pomada",
            look_for: &[
                "Una película lisa, gruesa a trechos, blanquecina o verdosa.",
                "Se derrama: también está al lado del pelo, sobre la cinta.",
            ],
            mistaken: &[
                "El manguito de esporas. El manguito es granuloso y sigue al pelo; la pomada es lisa y está donde se untó.",
            ],
        },
    ),
    (
        "tetracycline",
        PlateWords {
            title: "Tetraciclina o doxiciclina en el pelaje",
            look_for: &[
                "Verde amarillento, a manchas o entero (aquí: entero), de una medicina derramada o lamida.",
                "El pelo debajo conserva su borde y su médula.",
            ],
            mistaken: &["Pelo infectado: se le parece en color. Pregunte qué se le dio al gato y mire la estructura."],
        },
    ),
    (
        "food",
        PlateWords {
            title: "Comida seca",
            look_for: &[
                "Grumos de tamaño desigual, amarillentos o azulados, con pelo desnudo entre ellos.",
                "También hay migas sobre la cinta.",
            ],
            mistaken: &["Infección a manchas. Los grumos están encima; el pelo entre ellos y debajo es regular."],
        },
    ),
    (
        "dander",
        PlateWords {
            title: "Caspa y escamas de piel",
            look_for: &[
                "Láminas planas azuladas pegadas al pelo y alrededor.",
                "Son de todos los tamaños y de contorno irregular.",
            ],
            mistaken: &[
                "La caspa también brilla, con infección o sin ella. Las láminas solas no dicen nada; mire el pelo entre ellas.",
            ],
        },
    ),
    (
        "lint",
        PlateWords {
            title: "Pelusa: una fibra de tela lavada",
            look_for: &[
                "Azul vivo y regular, por el blanqueador del detergente.",
                "Del mismo grosor en todas partes; sin escamas ni médula, extremos cortados rectos.",
            ],
            mistaken: &["Borra. Una fibra no tiene raíz ni punta."],
        },
    ),
    (
        "carpet",
        PlateWords {
            title: "Fibra de alfombra",
            look_for: &[
                "Puede ser tan verde manzana como un pelo infectado, e igual de gruesa.",
                "Regular y lisa; sin escamas ni médula; extremos cortados.",
            ],
            mistaken: &[
                "Pelo infectado, por su color. El borde de un pelo infectado es desigual; este es liso de punta a punta.",
            ],
        },
    ),
    (
        "cotton",
        PlateWords {
            title: "Algodón",
            look_for: &[
                "Una cinta plana que se retuerce: se ve ancha y estrecha por turnos, muchas veces.",
                "A menudo azul por el lavado.",
            ],
            mistaken: &[
                "Infección a manchas, porque el grosor cambia. En el algodón cambia con regularidad, una y otra vez, y no hay grano.",
            ],
        },
    ),
    (
        "bubbles",
        PlateWords {
            title: "Burbujas de aire bajo la cinta",
            look_for: &[
                "Redondas, con un borde violeta más claro a un lado: devuelven la luz de la lámpara, nada brilla. Un filtro ante la cámara lo debilita.",
                "El aire junto a un pelo grueso dibuja una línea violeta al lado de su borde. La médula también contiene aire y se ve igual bajo una lámpara así.",
            ],
            mistaken: &[
                "Una vaina. El aire no brilla en verde. Apriete otra vez la cinta y mire si se mueve o desaparece (práctica común, sin fuente).",
            ],
        },
    ),
    (
        "out-of-focus",
        PlateWords {
            title: "Desenfocado",
            look_for: &[
                "Los bordes son blandos a ambos lados y, a la vista, todo pelo es más grueso de lo que es.",
                "No se ven grano, escamas ni médula, así que no se puede juzgar la estructura.",
            ],
            mistaken: &[
                "Una vaina gruesa. Es un pelo infectado y uno corriente como en las láminas de pelo infectado; solo falla el enfoque. Enfoque los bordes y repita la foto.",
            ],
        },
    ),
    (
        "clipped",
        PlateWords {
            title: "Demasiado claro",
            look_for: &[
                "El centro del pelo es blanco o de un solo color plano.",
                "Allí se pierden color y estructura; el pelo parece más grueso.",
            ],
            mistaken: &["Pelo blanco o blanqueador. Acorte la exposición hasta que el pelo tenga su color."],
        },
    ),
];

pub(super) fn group(group: Group) -> &'static str {
    match group {
        Group::Ordinary => "Pelo corriente",
        Group::Coats => "Colores del manto",
        Group::Infected => "Pelo infectado",
        Group::Recovering => "Tras la recuperación",
        Group::Residues => "Algo sobre el pelo",
        Group::Fibres => "Fibras: no son pelo",
        Group::Photos => "Lo que hace una foto",
    }
}

pub(super) fn part(part: Part) -> &'static str {
    match part {
        Part::Root => "raíz",
        Part::Tip => "punta",
        Part::Break => "rotura",
        Part::Cut => "extremo cortado",
        Part::Front => "borde del brillo",
        Part::Cuticle => "cutícula (borde)",
        Part::Cortex => "corteza",
        Part::Medulla => "médula",
        Part::Cuff => "manguito de esporas",
        Part::Coating => "recubrimiento",
        Part::Spill => "algo de ello en la cinta",
        Part::SmoothEdge => "borde liso",
        Part::Bubble => "burbuja",
        Part::TrappedAir => "aire junto al pelo",
        Part::Flake => "lámina de caspa",
        Part::Comparison => "pelo corriente, para comparar",
    }
}

pub(super) fn phrase(phrase: Phrase) -> &'static str {
    match phrase {
        Phrase::Atlas => "Atlas del pelo bajo la lámpara",
        Phrase::Simulated => "simulado",
        Phrase::SimulatedLong => {
            "Todas las imágenes de aquí son simuladas: dibujadas por el programa a partir de lo que se sabe, no fotografiadas. El pelo real varía más."
        }
        Phrase::Culture => {
            "Ninguna imagen dice si un animal tiene tiña. Envíe pelo para un cultivo de hongos y deje decidir a su veterinario."
        }
        Phrase::ToIndex => "Todas las láminas",
        Phrase::ToDesk => "Volver al escritorio",
        Phrase::Next => "Siguiente",
        Phrase::Before => "Anterior",
        Phrase::DaysTitle => "Día a día: cómo viene y se va el brillo",
        Phrase::DaysLead => {
            "Mueva el control. El brillo empieza en la raíz, llega a todo el pelo hacia el día 12 a 14 y, en la recuperación, se retira a la punta según crece el pelo."
        }
        Phrase::DaysInfection => "Días desde la infección",
        Phrase::DaysRecovery => "Días desde que empezó la recuperación",
        Phrase::DayOfInfection => "día {day} de infección",
        Phrase::DayOfRecovery => "día {day} de recuperación",
        Phrase::DaysCaution => {
            "El orden y los días de la frase anterior están publicados. Los lugares entre esos días son líneas rectas, el ritmo de la recuperación se eligió para que en diez semanas quede solo la punta (los animales de un experimento la pasaron en 11 a 14 semanas), y cómo viene y se va el manguito es inventado. Los pelos reales de un animal difieren entre sí, y un pelo real es muchas veces más largo."
        }
        Phrase::Light => "Luz",
        Phrase::Ultraviolet => "Lámpara UV",
        Phrase::Visible => "Luz visible",
        Phrase::WholeUv => "Bajo la lámpara UV, el pelo entero",
        Phrase::WholeVisible => "Lo mismo con luz visible desde abajo",
        Phrase::CloseUv => "Bajo la lámpara UV, de cerca",
        Phrase::CloseVisible => "El mismo lugar con luz visible desde abajo",
        Phrase::Short => {
            "El pelo está dibujado corto para que quepan los dos extremos; los pelos reales miden centímetros."
        }
        Phrase::LookFor => "En qué fijarse",
        Phrase::Mistaken => "Con qué se confunde",
        Phrase::ProgramTitle => "Lo que ve el programa en esta imagen",
        Phrase::ProgramSaid => "{look} ({share} %); {zone}.",
        Phrase::ProgramCannot => "El programa no puede decir qué es (lo más cercano: {look}, {share} %); {zone}.",
        Phrase::ProgramMissed => "El programa no sigue este pelo como uno solo, así que no dice nada de él.",
        Phrase::ProgramWidth => "Grosor medido {measured}, dibujado {drawn} µm.",
        Phrase::Drawn => "dibujado como",
        Phrase::Reasons => "Lo que más contó:",
        Phrase::StripTitle => "El pelo enderezado, tal como lo sigue el programa, y lo que midió a lo largo",
        Phrase::ProfileWidth => "Grosor, µm",
        Phrase::NotMeasured => "no se pudo medir",
        Phrase::Along => "A lo largo del pelo, µm",
        Phrase::Sources => "De dónde viene esto",
        Phrase::HowToStart => "Cómo empezar",
        Phrase::Start1 => {
            "Mire primero el pelo de guarda: borde, corteza, médula. Cada otra lámina es un cambio de eso."
        }
        Phrase::Start2 => {
            "Luego las láminas de infección: ¿dónde está el brillo, es más grueso el pelo, es granulosa la superficie?"
        }
        Phrase::Start3 => {
            "Luego los parecidos. Haga cada vez dos preguntas: ¿está entero el pelo debajo, y sigue el brillo al pelo?"
        }
        Phrase::Words => "Palabras",
        Phrase::BaseIs => "Base: el extremo hacia la piel, con la raíz si se arrancó.",
        Phrase::TipIs => "Punta: el extremo libre, muy fino si no está cortado ni roto.",
        Phrase::ShaftIs => "Tallo: un pelo tal como se ve en la foto.",
        Phrase::CuticleIs => {
            "Cutícula, corteza, médula: la piel escamosa del pelo, su cuerpo y su núcleo lleno de aire."
        }
        Phrase::GlowIs => "Brillo: luz propia bajo la lámpara UV. Todo pelo brilla un poco; el claro, más.",
        Phrase::CuffIs => "Manguito o vaina: una capa granulosa de esporas por fuera de un pelo infectado.",
        Phrase::SeriesTitle => "Serie de práctica",
        Phrase::SeriesLead => {
            "Para cada pelo numerado escriba qué parece, dónde brilla y qué extremo es la raíz. Use lápiz; la clave está en las últimas páginas."
        }
        Phrase::SeriesPhoto => "Foto {n}",
        Phrase::SeriesShaft => "Tallo",
        Phrase::SeriesLook => "Parece",
        Phrase::SeriesWhere => "Dónde brilla más que por sí mismo",
        Phrase::SeriesRoot => "Extremo de la raíz",
        Phrase::KeySaid => "{look} ({share} %)",
        Phrase::KeyCannot => "no puede decirlo (lo más cercano: {look}, {share} %)",
        Phrase::SeriesKey => "Clave",
        Phrase::SeriesName => "Su nombre o un apodo",
        Phrase::SeriesAnswers => "Respuestas",
        Phrase::SeriesFold => "No siga leyendo antes de acabar: viene la clave.",
        Phrase::PartlySimulated => {
            "Las fotos llamadas p… son simuladas: dibujadas por el programa, así que se sabe qué es cierto de ellas. Las llamadas own-… son fotografías de casos de esta casa, sin decir de quién son."
        }
        Phrase::OwnTitle => "Fotos de nuestros propios casos",
        Phrase::OwnLead => {
            "Estas son fotografías. Del sitio, un laboratorio ha dicho si creció un hongo de la tiña; de los pelos numerados, una persona ha dicho qué parecen. Por los demás pelos no se pregunta."
        }
        Phrase::OwnQuestion => "¿Creció de este sitio un hongo de la tiña?",
        Phrase::OwnGrew => "creció",
        Phrase::OwnDidNot => "no creció nada",
        Phrase::OwnCannotSay => "no se puede decir",
        Phrase::OwnKey => {
            "Un cultivo habla del sitio, no de cada pelo, y uno en el que no creció nada no descarta nada. Lo que parece un pelo es palabra de una persona y puede ser erróneo. Por eso estas fotos no cuentan para saber hasta dónde se puede confiar en usted."
        }
        Phrase::OwnCulture => "El cultivo del sitio",
        Phrase::OwnPersonSaid => "Lo que dijo una persona",
        Phrase::NotAsked => "no se pregunta",
        Phrase::Width => "Grosor",
    }
}
