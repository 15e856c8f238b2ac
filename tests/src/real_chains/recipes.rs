//! Which sound the pieces are made of. Everything comes from Debian's main archive, whose packages
//! hold free works only; each package's own copyright file says under which licence.

/// A piece before it is made.
pub struct Recipe {
    /// Its name, as it is typed.
    pub name: &'static str,
    /// What it is, for people.
    pub what: &'static str,
    /// What sounds at once, each with its share of the peak.
    pub layers: &'static [(Layer, f64)],
}

/// A sound within a piece.
pub enum Layer {
    /// A file, from a moment on.
    File {
        /// The package.
        package: &'static str,
        /// The file's name in it.
        path: &'static str,
        /// Where to begin, in seconds.
        from_s: f64,
    },
    /// A folder of spoken words or lines, one after the other, now left and now right.
    Words(Words),
}

/// A folder of spoken words or lines.
pub struct Words {
    /// The package.
    pub package: &'static str,
    /// The folder's name in it.
    pub folder: &'static str,
    /// What the names of the files begin with that are spoken.
    pub beginnings: &'static [&'static str],
}

/// The words that are mixed over pieces.
pub const VOICE: Words = Words {
    package: "alsa-utils",
    folder: "usr/share/sounds/alsa",
    beginnings: &["Front", "Rear", "Side"],
};

const DIALOGUE: Words = Words {
    package: "fillets-ng-data",
    folder: "usr/share/games/fillets-ng/sound/linux/en",
    beginnings: &[""],
};

const ORCHESTRA: Layer = orchestra(60.0);

/// The orchestra from a moment on, in seconds.
const fn orchestra(from_s: f64) -> Layer {
    Layer::File {
        package: "gamine-data",
        path: "usr/share/games/gamine/sounds/BachJSBrandenburgConcertNo2inFMajorBWV1047mvmt1.ogg",
        from_s,
    }
}

/// The pieces of the bench. Where a chain takes another piece, it takes the next: neighbours share
/// nothing.
pub const ALL: [Recipe; 10] = [
    Recipe {
        name: "orchestra",
        what: "a chamber orchestra, recorded",
        layers: &[(ORCHESTRA, 1.0)],
    },
    Recipe {
        name: "speech",
        what: "dialogue, left and right of the middle",
        layers: &[(Layer::Words(DIALOGUE), 1.0)],
    },
    Recipe {
        name: "pop",
        what: "electronic pop",
        layers: &[(
            Layer::File {
                package: "frozen-bubble-data",
                path: "usr/share/games/frozen-bubble/snd/introzik.ogg",
                from_s: 20.0,
            },
            1.0,
        )],
    },
    Recipe {
        name: "metal",
        what: "metal: a band and its lead guitar, from two stems",
        layers: &[
            (
                Layer::File {
                    package: "fretsonfire-songs-sectoid",
                    path: "usr/share/games/fretsonfire/data/songs/sectoid/Metal madness/song.ogg",
                    from_s: 40.0,
                },
                0.7,
            ),
            (
                Layer::File {
                    package: "fretsonfire-songs-sectoid",
                    path: "usr/share/games/fretsonfire/data/songs/sectoid/Metal madness/guitar.ogg",
                    from_s: 40.0,
                },
                0.5,
            ),
        ],
    },
    Recipe {
        name: "ambient",
        what: "ambient, slow pads",
        layers: &[(
            Layer::File {
                package: "singularity-music",
                path: "usr/share/games/singularity/music/Nebula.ogg",
                from_s: 60.0,
            },
            1.0,
        )],
    },
    Recipe {
        name: "film",
        what: "dialogue over ambient music",
        layers: &[
            (Layer::Words(DIALOGUE), 1.0),
            (
                Layer::File {
                    package: "singularity-music",
                    path: "usr/share/games/singularity/music/Coherence.ogg",
                    from_s: 60.0,
                },
                0.3,
            ),
        ],
    },
    Recipe {
        name: "electronic",
        what: "electronic music with a beat",
        layers: &[(
            Layer::File {
                package: "singularity-music",
                path: "usr/share/games/singularity/music/Media Threat.ogg",
                from_s: 90.0,
            },
            1.0,
        )],
    },
    Recipe {
        name: "tracker",
        what: "a tracker's synthesizers and drums",
        layers: &[(
            Layer::File {
                package: "pathological",
                path: "usr/share/games/pathological/music/intro.ogg",
                from_s: 20.0,
            },
            1.0,
        )],
    },
    Recipe {
        name: "rock",
        what: "a slow rock song, from two stems",
        layers: &[
            (
                Layer::File {
                    package: "fretsonfire-songs-sectoid",
                    path: "usr/share/games/fretsonfire/data/songs/sectoid/Feelings/song.ogg",
                    from_s: 60.0,
                },
                0.7,
            ),
            (
                Layer::File {
                    package: "fretsonfire-songs-sectoid",
                    path: "usr/share/games/fretsonfire/data/songs/sectoid/Feelings/guitar.ogg",
                    from_s: 60.0,
                },
                0.5,
            ),
        ],
    },
    Recipe {
        name: "loops",
        what: "a game's music, made of loops",
        layers: &[(
            Layer::File {
                package: "hex-a-hop-data",
                path: "usr/share/games/hex-a-hop/hex-a-hop/music-game.ogg",
                from_s: 60.0,
            },
            1.0,
        )],
    },
];

/// The pieces of the small set, of packages that are small and installed on machines that run all
/// tests.
pub const SMALL: [Recipe; 2] = [
    Recipe {
        name: "orchestra",
        what: "a chamber orchestra, recorded",
        layers: &[(ORCHESTRA, 1.0)],
    },
    Recipe {
        name: "words",
        what: "spoken words over a chamber orchestra",
        layers: &[(Layer::Words(VOICE), 1.0), (orchestra(200.0), 0.25)],
    },
];
