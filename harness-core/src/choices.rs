//! Every closed list of words a user may choose from, with the word used in files.

macro_rules! choice {
    ($(#[$doc:meta])* $name:ident { $( $(#[$item_doc:meta])* $item:ident = $word:literal, )+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $name {
            $( $(#[$item_doc])* $item, )+
        }

        impl $name {
            /// The words used in files, in order.
            pub const WORDS: &'static [&'static str] = &[$($word),+];
            /// All of them, in the order of the words.
            pub const ALL: &'static [Self] = &[$(Self::$item),+];

            /// The word used in files.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$item => $word,)+
                }
            }

            /// The choice behind a word; `None` if there is no such word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word {
                    $($word => Some(Self::$item),)+
                    _ => None,
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }
    };
}

choice! {
    /// Rule set that applies to the model.
    RuleSet {
        /// United States federal regulation, 33 CFR 183 Subpart I.
        UsFederal = "us-federal",
        /// Voluntary United States marine standard.
        UsVoluntary = "us-voluntary",
        /// ISO small craft.
        Iso = "iso",
    }
}
choice! {
    /// Series of sizes the yard stocks.
    SizeSeriesChoice {
        /// Gauge sizes.
        Awg = "awg",
        /// Metric areas.
        Mm2 = "mm2",
    }
}
choice! {
    /// How conductor resistance is found.
    DropBasis {
        /// From the area and annealed copper at the temperature of the zones.
        CopperAtTemperature = "copper-at-temperature",
        /// From the United States trade constant 10.75 ohm·CM/ft.
        TradeConstant = "trade-constant",
        /// From the ohm per kilometre of the conductor table, at the temperature of the zones.
        TableAtTemperature = "table-at-temperature",
        /// From the ISO drop constant 0.0164 ohm·mm²/m, which is below copper at 20 °C.
        IsoConstant = "iso-constant",
    }
}
choice! {
    /// Which area stands for a gauge number.
    AreaBasis {
        /// The defining gauge area.
        Awg = "awg",
        /// The smaller SAE minimum area.
        SaeMinimum = "sae-minimum",
    }
}
choice! {
    /// How ampacity falls in a bundle of d.c. conductors below 50 V; public sources disagree.
    DcBundling {
        /// By the number of loaded conductors: the strictest reading.
        ByCount = "by-count",
        /// A flat 0.70 from three conductors up.
        Flat70 = "flat-0.70",
        /// No reduction below 50 V.
        NoneBelow50V = "none-below-50-v",
    }
}
choice! {
    /// How wires are held along a run.
    Fixing {
        /// Clips or ties on structure.
        Clipped = "clipped",
        /// A pipe.
        Conduit = "conduit",
        /// A moulded or built channel.
        Chase = "chase",
        /// The tube of a top or arch.
        Leg = "leg",
    }
}
choice! {
    /// What keeps the edge of a hole off the wires.
    EdgeProtection {
        /// Nothing.
        None = "none",
        /// Rubber edging.
        Grommet = "grommet",
        /// Hard lining.
        Bushing = "bushing",
        /// Sealed clamp.
        Gland = "gland",
        /// Pipe through the hole.
        Conduit = "conduit",
        /// Sleeve over the bundle.
        Sleeve = "sleeve",
    }
}
choice! {
    /// Kind of source.
    SourceKind {
        /// Battery bank.
        Battery = "battery",
        /// Engine-driven generator of direct current.
        Alternator = "alternator",
        /// Mains or solar charger.
        Charger = "charger",
    }
}
choice! {
    /// Kind of device in a feed.
    DeviceKind {
        /// Fuse.
        Fuse = "fuse",
        /// Resettable protective switch.
        Breaker = "breaker",
        /// Hand switch.
        Switch = "switch",
        /// Main disconnect.
        BatterySwitch = "battery-switch",
        /// Remote switch.
        Relay = "relay",
        /// One-way valve.
        Diode = "diode",
    }
}
choice! {
    /// Family of a protective device, as in the table of protective devices.
    Family {
        /// Small blade fuse.
        BladeSmall = "blade-small",
        /// Medium blade fuse.
        BladeMedium = "blade-medium",
        /// Large blade fuse.
        BladeLarge = "blade-large",
        /// Small bolt-in fuse.
        BoltInSmall = "bolt-in-small",
        /// Large bolt-in fuse.
        BoltInLarge = "bolt-in-large",
        /// Bolted strip fuse.
        Strip = "strip",
        /// Fast cartridge fuse of high interrupting rating.
        FastCartridge = "fast-cartridge",
        /// Breaker.
        Breaker = "breaker",
        /// Any other.
        Other = "other",
    }
}
choice! {
    /// Kind of bus.
    BusKind {
        /// Bar that joins many conductors.
        Busbar = "busbar",
        /// Group of fuses fed in common.
        FuseBlock = "fuse-block",
        /// Threaded post.
        Stud = "stud",
    }
}
choice! {
    /// Drop class of a load.
    DropClass {
        /// Held to 3 %.
        Critical = "critical",
        /// Held to 10 %.
        Other = "other",
    }
}
choice! {
    /// Where a figure comes from.
    FigureFrom {
        /// Printed on the equipment.
        Label = "label",
        /// Measured.
        Measured = "measured",
        /// Assumed.
        Guess = "guess",
        /// Published by somebody: a data sheet, a table, a standard.
        Published = "published",
    }
}
choice! {
    /// Kind of terminal.
    TerminalKind {
        /// Crimped eye.
        Ring = "ring",
        /// Fork with turned-up tips.
        CaptiveSpade = "captive-spade",
        /// Open fork.
        Spade = "spade",
        /// Push-on blade.
        Blade = "blade",
        /// Contact inside a connector.
        Contact = "contact",
        /// Sleeve for a screw clamp.
        Ferrule = "ferrule",
        /// Heavy eye for battery cable.
        Lug = "lug",
    }
}
choice! {
    /// Which half of a mated pair, by its contacts.
    Contacts {
        /// Pins.
        Pin = "pin",
        /// Sockets.
        Socket = "socket",
    }
}
choice! {
    /// Face from which cavities are numbered.
    ViewFace {
        /// The face that meets the other half.
        Mating = "mating",
        /// The face the wires enter.
        WireEntry = "wire-entry",
    }
}
choice! {
    /// Decision on a cavity that holds no wire.
    CavityUse {
        /// Closed with a plug.
        Plug = "plug",
        /// Left empty on purpose.
        EmptyByDesign = "empty-by-design",
        /// Kept for later.
        Spare = "spare",
    }
}
choice! {
    /// What is done with an end that serves nothing on this boat.
    EndTreatmentKind {
        /// Insulating cap over the end.
        Capped = "capped",
        /// Plug in the connector.
        Plugged = "plugged",
        /// Mated with a blank half.
        MatedBlank = "mated-blank",
    }
}
choice! {
    /// How the ends of a splice meet.
    SpliceKind {
        /// In line.
        Butt = "butt",
        /// Side by side.
        Parallel = "parallel",
    }
}
choice! {
    /// What a wire carries.
    Role {
        /// From source to load.
        Feed = "feed",
        /// From load back to the source.
        Return = "return",
        /// Joins metal parts, carries no load current.
        Bonding = "bonding",
        /// A signal of little current.
        Signal = "signal",
    }
}
choice! {
    /// What a circuit does; the color of its feed follows from it.
    Function {
        /// Main feed.
        MainFeed = "main-feed",
        /// Feed of accessories and switches.
        AccessoryFeed = "accessory-feed",
        /// Ignition and instrument feed.
        IgnitionFeed = "ignition-feed",
        /// Navigation lights.
        NavigationLights = "navigation-lights",
        /// Bilge blower.
        BilgeBlower = "bilge-blower",
        /// Pumps.
        Pump = "pump",
        /// Cabin and instrument lights.
        CabinLights = "cabin-lights",
        /// Electronic equipment.
        Electronics = "electronics",
        /// Engine starting.
        Starting = "starting",
        /// Battery charging.
        Charging = "charging",
        /// Bonding.
        Bonding = "bonding",
        /// Gauge senders.
        Sender = "sender",
        /// Anything else.
        Other = "other",
    }
}
