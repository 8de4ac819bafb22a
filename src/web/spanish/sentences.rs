//! Why the desk did not do something: a table of sentences, English beside Spanish. `{}` stands for what a sentence is
//! filled with, in the same order in both.

/// Sentences, or parts of them that others are put together from. The first that fits is taken.
pub(super) const TOLD: &[(&str, &str)] = &[
    // What the record says.
    (
        "the record must know who tells this; say so with --by NAME",
        "el registro debe saber quién lo dice; escriba su nombre arriba, en «Usted»",
    ),
    (
        "the record must know who asks for this; write your name at the top of the page",
        "el registro debe saber quién lo pide; escriba su nombre arriba, en «Usted»",
    ),
    (
        "this photo ({}) is already in the record: {}; nothing was added",
        "esta foto ({}) ya está en el registro: {}; no se añadió nada",
    ),
    (
        "there is no {} \"{}\" in the record; `pilumen case list` and `pilumen case search` show what there is",
        "en el registro no hay {} «{}»; «Casos» muestra lo que hay",
    ),
    ("\"{}\" fits several: {}; give more of the id", "«{}» corresponde a varios: {}; dé más del número"),
    (
        "another program{} is writing to the record in {}; wait until it is done and try again",
        "otro programa{} está escribiendo en el registro de {}; espere a que acabe e inténtelo de nuevo",
    ),
    (
        "{} cannot be written: it is read-only or belongs to someone else; change its permissions, or copy the record to a folder of your own",
        "no se puede escribir en {}: es de solo lectura o de otra persona; cambie sus permisos o copie el registro a una carpeta suya",
    ),
    (
        "there is no room left in {}; make room and repeat the command, nothing of it was kept",
        "no queda sitio en {}; haga sitio y repítalo, no se guardó nada",
    ),
    (
        "the database {} is damaged ({}); run `pilumen check` to see what is still whole, then go back to the newest backup",
        "la base de datos {} está dañada ({}); ejecute «pilumen check» para ver qué sigue entero y vuelva a la copia más reciente",
    ),
    (
        "{} {} in the record is damaged ({}); run `pilumen check`, then go back to the newest backup",
        "{} {} del registro está dañado ({}); ejecute «pilumen check» y vuelva a la copia más reciente",
    ),
    (
        "the photo {} is {}; run `pilumen check`, then copy it back from a backup or the camera",
        "la foto {} falta o está dañada ({}); ejecute «pilumen check» y recupérela de una copia o de la cámara",
    ),
    ("{}: {}; check the disk and the folder's permissions", "{}: {}; compruebe el disco y los permisos de la carpeta"),
    (
        "the database {} could not do this: {}; try again, then run `pilumen check`",
        "la base de datos {} no pudo hacerlo: {}; inténtelo de nuevo y ejecute «pilumen check»",
    ),
    (
        "the plate was looked at on {}, before the culture was sent on {}; check the days",
        "la placa se miró el {}, antes de enviarse el cultivo el {}; compruebe los días",
    ),
    (
        "an animal cannot be exposed to itself; name the other one",
        "un animal no puede estar expuesto a sí mismo; nombre al otro",
    ),
    ("the photo {} is empty; copy it from the camera again", "la foto {} está vacía; cópiela otra vez de la cámara"),
    (
        "this photo is no longer among those to practise on; take the next one",
        "esta foto ya no está entre las de práctica; tome la siguiente",
    ),
    ("a missed shaft needs 2 to {} points along it", "un pelo no hallado necesita de 2 a {} puntos a lo largo"),
    (
        "the treatment ends on {}, before it begins on {}; check the days",
        "el tratamiento acaba el {}, antes de empezar el {}; compruebe los días",
    ),
    (
        "{} nm is no wavelength of such a lamp; give {} to {}, such as 365",
        "{} nm no es longitud de onda de una lámpara así; dé de {} a {}, por ejemplo 365",
    ),
    (
        "{} lies in the future (today is {}); check the date, and the computer's clock",
        "un día está en el futuro ({}; hoy es {}); compruebe la fecha y el reloj del ordenador",
    ),
    ("{} is too long ago to be meant; check the year", "un día queda demasiado lejos ({}); compruebe el año"),
    ("{} is empty; write something there", "un campo está vacío ({}); escriba algo en él"),
    ("{} is longer than {} bytes; keep it short", "un texto es demasiado largo ({}, más de {} bytes); acórtelo"),
    (
        "{} has control characters in it; write plain text",
        "un texto tiene caracteres de control ({}); escriba texto simple",
    ),
    // What the desk says.
    ("there is no such paper; take one the page offers", "no existe esa hoja; tome una de las que ofrece la página"),
    ("there is no such page in the atlas; go to its beginning", "no existe esa página del atlas; vaya al principio"),
    ("there is no such level; choose 1, 2 or 3", "no existe esa dificultad; elija 1, 2 o 3"),
    (
        "these answers cannot be marked: {}; load the page again",
        "estas respuestas no se pueden corregir: {}; vuelva a cargar la página",
    ),
    (
        "each shaft must be answered once; say of every shaft what it looks like",
        "cada pelo se responde una vez; diga de cada pelo qué parece",
    ),
    ("this cannot be kept: {}; check what you entered", "no se puede guardar: {}; compruebe lo que anotó"),
    (
        "this photo does not wait any more; it was read or taken out already",
        "esta foto ya no espera; ya se leyó o se retiró",
    ),
    (
        "this photo was not read yet; wait for it or have it read",
        "esta foto aún no se ha leído; espere o haga que se lea",
    ),
    (
        "there is no such file of a reading; take one the page offers",
        "no existe ese archivo de una lectura; tome uno de los que ofrece la página",
    ),
    (
        "the pack cannot be written: {}; make room and try again",
        "no se puede escribir el archivo del caso: {}; haga sitio e inténtelo de nuevo",
    ),
    ("the photo did not arrive whole; drop it again", "la foto no llegó entera; suéltela otra vez"),
    (
        "the photo's file is larger than the desk takes; start the desk with a higher --max-megabytes",
        "el archivo de la foto es mayor de lo que admite el escritorio; ábralo con un --max-megabytes mayor",
    ),
    (
        "the photo cannot be put on the disk of the record ({}); make room and drop it again",
        "la foto no se puede poner en el disco del registro ({}); haga sitio y suéltela otra vez",
    ),
    (
        "the photo has no name; save it under one and drop it again",
        "la foto no tiene nombre; guárdela con uno y suéltela otra vez",
    ),
    (
        "the photo cannot be shown; it is in the record all the same",
        "la foto no se puede mostrar; aun así está en el registro",
    ),
    (
        "this correction cannot be kept: {}; load the page again",
        "esta corrección no se puede guardar: {}; vuelva a cargar la página",
    ),
    (
        "these are no corrections of a photo's shafts; load the page again",
        "esto no son correcciones de los pelos de una foto; vuelva a cargar la página",
    ),
    (
        "this correction is not of this reading; load the page again",
        "esta corrección no es de esta lectura; vuelva a cargar la página",
    ),
    ("there is no such page in the desk; go to its start", "no existe esa página del escritorio; vaya al inicio"),
    ("there is no such file in the desk", "no existe ese archivo en el escritorio"),
    ("there is no such practice photo; take the next one", "no existe esa foto de práctica; tome la siguiente"),
    (
        "the answers cannot be kept in {}: {}; make room and answer again",
        "las respuestas no se pueden guardar en {}: {}; haga sitio y responda otra vez",
    ),
    (
        "the learners' answers in {} cannot be read: {}; move that file away and keep it",
        "las respuestas guardadas en {} no se pueden leer: {}; aparte ese archivo y consérvelo",
    ),
    (
        "the desk failed at this; try again, and report it if it stays",
        "el escritorio falló en esto; inténtelo de nuevo y avise si sigue igual",
    ),
    ("the program broke down on this photo; please report it", "el programa falló con esta foto; avise, por favor"),
    (
        "this desk is not known under that name; open it by the link it printed when it was started",
        "este escritorio no se conoce por ese nombre; ábralo con el enlace que mostró al empezar",
    ),
    (
        "the request names two hosts; open the desk by its link",
        "la petición nombra dos servidores; abra el escritorio con su enlace",
    ),
    (
        "another page asked for this; open the desk by its link",
        "lo pidió otra página; abra el escritorio con su enlace",
    ),
    ("the page is out of date; load it again", "la página es antigua; vuelva a cargarla"),
    (
        "this link is not the desk's; copy it again from where the desk was started",
        "este enlace no es del escritorio; cópielo otra vez de donde se abrió",
    ),
    (
        "{} micrometres per pixel is no scale; give a number above 0, such as 0.42",
        "{} micrómetros por píxel no es una escala; dé un número mayor que 0, como 0,42",
    ),
    (
        "a setup and micrometres per pixel are two scales; give one of them",
        "un equipo y unos micrómetros por píxel son dos escalas; dé una de ellas",
    ),
    (
        "these photos of the micrometer are no longer at hand; drop them again",
        "estas fotos del micrómetro ya no están a mano; suéltelas otra vez",
    ),
    (
        "{} is no numerical aperture of a dry objective; give the one written on it, such as 0.25",
        "{} no es apertura numérica de un objetivo seco; dé la que lleva escrita, como 0.25",
    ),
    ("the setup cannot be used: {}; load the page again", "el equipo no se puede usar: {}; vuelva a cargar la página"),
    // Setups.
    (
        "there is a setup \"{}\" already; choose another name, or say --replace",
        "ya hay un equipo «{}»; elija otro nombre o marque que se reemplace",
    ),
    ("there is no setup \"{}\"; {}", "no hay ningún equipo «{}»; {}"),
    (
        "\"{}\" is no name for a setup; give up to 60 characters, such as \"10x phone\"",
        "«{}» no es nombre de un equipo; dé hasta 60 letras, como «10x teléfono»",
    ),
    (
        "this account has no folder for data; say where setups are kept with --setups FILE",
        "esta cuenta no tiene carpeta de datos; diga dónde se guardan los equipos con --setups ARCHIVO",
    ),
    (
        "{}: the setups cannot be {}: {}; give another file with --setups",
        "{}: los equipos no se pueden leer o guardar ({}): {}; dé otro archivo con --setups",
    ),
    (
        "{}: the file {}; restore it or give another with --setups",
        "{}: el archivo no sirve ({}); recupérelo o dé otro con --setups",
    ),
    // Scales.
    ("{} micrometres is no pitch of a ruling", "{} micrómetros no es distancia entre líneas"),
    ("{} micrometres is no uncertainty of that pitch", "{} micrómetros no es incertidumbre de esa distancia"),
    (
        "no evenly ruled lines of a stage micrometer are seen on the photo",
        "en la foto no se ven líneas regulares de un micrómetro de platina",
    ),
    (
        "the photos differ in size ({} × {} and {} × {} pixels)",
        "las fotos son de distinto tamaño ({} × {} y {} × {} píxeles)",
    ),
    (
        "the rulings give scales that disagree: {} and {} micrometres a pixel",
        "las líneas dan escalas que no concuerdan: {} y {} micrómetros por píxel",
    ),
    (
        "the scales along the photo's width and height disagree: {} and {} micrometres a pixel",
        "las escalas a lo ancho y a lo alto de la foto no concuerdan: {} y {} micrómetros por píxel",
    ),
    (
        "give the distance between neighbouring lines as the micrometer states it, often --pitch-um 10.",
        "dé la distancia entre líneas vecinas que indica el micrómetro, a menudo 10.",
    ),
    (
        "give one standard deviation in micrometres, 0 or more and below the pitch.",
        "dé una desviación típica en micrómetros, 0 o más y menor que la distancia.",
    ),
    (
        "focus on the lines, let at least five of them cross the photo, and photograph them again.",
        "enfoque las líneas, deje que al menos cinco crucen la foto y fotografíelas otra vez.",
    ),
    (
        "photograph with one objective, camera and picture size, uncropped.",
        "fotografíe con un solo objetivo, cámara y tamaño, sin recortar.",
    ),
    (
        "photograph the same micrometer with the same objective and zoom, and give its pitch.",
        "fotografíe el mismo micrómetro con el mismo objetivo y zoom, y dé su distancia.",
    ),
    (
        "check that no photo was stretched and that all were taken with one objective and zoom.",
        "compruebe que ninguna foto se estiró y que todas se hicieron con un objetivo y zoom.",
    ),
    // Pictures.
    ("the file is empty", "el archivo está vacío"),
    ("it is no JPEG, PNG, WebP or TIFF picture", "no es una imagen JPEG, PNG, WebP ni TIFF"),
    ("it is a {} picture, which is not read", "es una imagen {}, que no se lee"),
    ("it is {}, which is not read", "es {}, que no se lee"),
    ("the {} file ends before the picture is complete", "el archivo {} acaba antes que la imagen"),
    ("it is a {} picture that {}, which is not read", "es una imagen {} de una clase que no se lee ({})"),
    ("the {} file is damaged: {}", "el archivo {} está dañado: {}"),
    ("the picture has no pixels", "la imagen no tiene píxeles"),
    ("the picture has {} × {} pixels", "la imagen tiene {} × {} píxeles"),
    ("the limit is {} pixels and {} pixels a side", "el límite es {} píxeles y {} píxeles por lado"),
    ("decoding the picture would take {} MB of memory", "leer la imagen ocuparía {} MB de memoria"),
    ("the limit is {} MB", "el límite es {} MB"),
    (
        "make the phone write JPEG: in its settings look under Camera for Formats and choose Most Compatible, or switch off high-efficiency pictures; a photo already taken can be shared or exported as JPEG.",
        "haga que el teléfono guarde JPEG: en los ajustes de la cámara, en Formatos, elija el más compatible; una foto ya hecha se puede compartir o exportar como JPEG.",
    ),
    (
        "set the camera to JPEG; a photo already taken can be opened and exported as JPEG or PNG.",
        "ponga la cámara en JPEG; una foto ya hecha se puede abrir y exportar como JPEG o PNG.",
    ),
    ("open it and export it as PNG or TIFF without layers.", "ábrala y expórtela como PNG o TIFF sin capas."),
    (
        "set the camera to RAW + JPEG and send the JPEG, or develop the raw file to TIFF without sharpening.",
        "ponga la cámara en RAW + JPEG y use el JPEG, o revele el archivo a TIFF sin enfocarlo.",
    ),
    (
        "GIF keeps too few colours to measure light; send the photo as the camera saved it.",
        "GIF guarda muy pocos colores para medir la luz; use la foto como la guardó la cámara.",
    ),
    ("open it and save it as PNG, which loses nothing.", "ábrala y guárdela como PNG, que no pierde nada."),
    ("send the photo itself, not the document it was put into.", "use la foto misma, no el documento en que se puso."),
    (
        "take a still photo; a frame of a video is compressed too strongly.",
        "haga una foto fija; una imagen de un vídeo está demasiado comprimida.",
    ),
    (
        "export the picture as PNG or TIFF from the program that keeps it.",
        "exporte la imagen como PNG o TIFF desde el programa que la guarda.",
    ),
    ("unpack it and send the photos inside.", "desempaquételo y use las fotos de dentro."),
    (
        "send the photo itself: save the picture, not the page that shows it.",
        "use la foto misma: guarde la imagen, no la página que la muestra.",
    ),
    ("copy the photo again; this copy holds nothing.", "copie la foto otra vez; esta copia no contiene nada."),
    ("save the photo as JPEG, PNG, WebP or TIFF.", "guarde la foto como JPEG, PNG, WebP o TIFF."),
    (
        "copy or send the photo again; this copy is not whole.",
        "copie o envíe la foto otra vez; esta copia no está entera.",
    ),
    (
        "open it and save it as a plain PNG, JPEG or TIFF in grey or RGB.",
        "ábrala y guárdela como PNG, JPEG o TIFF simple, en gris o RGB.",
    ),
    (
        "copy the photo again from the camera or phone; this copy cannot be trusted.",
        "copie la foto otra vez de la cámara o el teléfono; esta copia no es fiable.",
    ),
    (
        "cut out the part with the hairs at full resolution, or raise the limit.",
        "recorte la parte con los pelos a toda resolución o suba el límite.",
    ),
    (
        "cut out the part with the hairs, save it with 8 bits a channel, or raise the limit.",
        "recorte la parte con los pelos, guárdela con 8 bits por canal o suba el límite.",
    ),
    // Two photos of one field.
    (
        "both photos were taken in the same light; choose one under the lamp and one in visible light",
        "las dos fotos se tomaron con la misma luz; elija una bajo la lámpara y otra con luz visible",
    ),
    (
        "the visible photo has {} × {} pixels, the UV photo {} × {} pixels",
        "la foto con luz visible tiene {} × {} píxeles, la foto UV {} × {} píxeles",
    ),
    (
        "Take both with the same camera and settings, and send them as they were saved.",
        "Tome las dos con la misma cámara y los mismos ajustes, y envíelas tal como se guardaron.",
    ),
    (
        "the visible photo does not show the field of the UV photo",
        "la foto con luz visible no muestra el campo de la foto UV",
    ),
    (
        "Switch the light without moving the slide, photograph again, and name the two photos of one field.",
        "Cambie la luz sin mover el portaobjetos, fotografíe de nuevo y elija las dos fotos de un mismo campo.",
    ),
    (
        "the shafts of the visible photo do not lie where those of the UV photo do",
        "los pelos de la foto con luz visible no están donde los de la foto UV",
    ),
    (
        "Keep the slide and the camera still between the two photos, and photograph again.",
        "No mueva el portaobjetos ni la cámara entre las dos fotos, y fotografíe de nuevo.",
    ),
];
