//! What the tool noticed: anything unknown, unreadable, assumed or rejected becomes a finding
//! with a code, a place, a cause and an action. Nothing is dropped in silence.

use crate::place::Place;
use serde::{Deserialize, Serialize};
use std::fmt;

/// How much a finding matters to the person who reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; the answer stands.
    Note,
    /// The answer rests on an assumption that someone should check.
    Caution,
    /// The input cannot be used as it is.
    Error,
}

macro_rules! codes {
    ($($variant:ident $code:literal $severity:ident $meaning:literal;)*) => {
        /// The code index: every finding the tool can raise.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $(#[doc = $meaning] $variant),* }
        impl Code {
            pub const ALL: &'static [Code] = &[$(Code::$variant),*];
            /// The stable spelling used in every output.
            pub fn as_str(self) -> &'static str { match self { $(Code::$variant => $code),* } }
            pub fn severity(self) -> Severity { match self { $(Code::$variant => Severity::$severity),* } }
            pub fn meaning(self) -> &'static str { match self { $(Code::$variant => $meaning),* } }
        }
    };
}

codes! {
    FileMissing "file-missing" Error "a file named in the request cannot be opened";
    FileUnreadable "file-unreadable" Error "a file is damaged, truncated or of another kind";
    InputInvalid "input-invalid" Error "a value is missing, out of range or of the wrong kind";
    SwappedLonLat "swapped-lon-lat" Error "longitude and latitude look exchanged";
    OffTheRoads "off-the-roads" Error "a place is too far from any road the vehicle can use";
    NoRoads "no-roads" Error "the extract holds no road a tanker could use";
    NoFillSite "no-fill-site" Error "no fill site is left to choose from";
    NoTanker "no-tanker" Error "the fleet has no usable tanker";
    NoPumper "no-pumper" Error "the fleet has no pumper to draft from the portable tanks";
    NoPortableTank "no-portable-tank" Error "the fleet carries no portable tank";
    NoDumpSite "no-dump-site" Caution "no road point within the supply line's reach can serve as dump site";

    LimitUnreadable "limit-unreadable" Caution "a posted limit cannot be read; closed to the loaded leg";
    LimitImplausible "limit-implausible" Caution "a posted limit is readable but hardly possible";
    TagUnreadable "tag-unreadable" Note "a road tag has a value the reader does not know";
    ConditionalIgnored "conditional-not-read" Caution "a conditional tag was not evaluated";
    BridgeUnposted "bridge-unposted" Caution "a bridge on the way has no posted weight; unknown is not unlimited";
    WayCut "way-cut" Note "a way refers to nodes outside the extract";
    RestrictionBroken "restriction-broken" Note "a turn restriction has missing or unconnected members";
    RestrictionNotRead "restriction-not-read" Caution "a turn restriction of a kind the reader does not apply";
    LimitForEmergency "limit-for-emergency" Caution "a weight posted for emergency vehicles counts in place of the general one";
    WaysLeftOut "ways-left-out" Note "ways with a highway tag that are no road for a truck";
    ElementsOutOfOrder "elements-out-of-order" Note "the file's nodes are not sorted by id; they were sorted in memory";

    PrivateRoad "private-road" Caution "the way uses a private or destination-only road under the policy";
    TrackUsed "track-used" Caution "the way uses a track";
    GateOnWay "gate-on-way" Caution "the way passes a gate or a similar barrier";
    RatingLimit "rating-limit" Caution "a sign limits the rated weight; open by policy";
    HgvRestricted "hgv-restricted" Caution "heavy goods vehicles are restricted here; may hide a physical reason";
    OneWayOverride "one-way-override" Caution "a one-way road is used against its direction by named override";
    OneWayLifted "one-way-lifted" Caution "a one-way road is used against its direction, as the map allows emergency vehicles";
    LimitLifted "limit-lifted" Caution "a limit is posted that by its own sign does not bind this traffic or at this time";
    ConditionUndecided "condition-undecided" Caution "a condition on the way could not be decided";
    SeasonalRoad "seasonal-road" Caution "the way uses a road that is open in some seasons only";
    FordUsed "ford-used" Caution "the way goes through a ford";
    FerryUsed "ferry-used" Caution "the way uses a ferry";
    BusLane "bus-lane" Note "the way has lanes for buses";
    RoughRoad "rough-road" Caution "the way uses a road mapped as too rough for most vehicles";
    StopOnWay "stop-on-way" Note "the way passes a toll booth or border control";
    GateLocked "gate-locked" Caution "the way passes a locked gate";
    FrameUnmeasured "frame-unmeasured" Caution "the way passes under a height frame that nobody measured";
    GapOnWay "gap-on-way" Caution "the way passes between posts";
    BridgeKnown "bridge-known" Caution "a bridge on the way carries what an overlay says, not what a sign says";
    LocalSpeed "local-speed" Note "the speed on the way is an overlay's";
    GateOpened "gate-opened" Caution "the way passes a gate that an overlay says somebody opens";
    OverlayApplied "overlay-applied" Note "what an overlay entry closes or means";
    OverlayIdle "overlay-idle" Note "an overlay entry does not hold now, or has nothing to do";
    OverlayUndecided "overlay-undecided" Caution "whether an overlay entry holds is not known without a date";
    OverlayUnmatched "overlay-unmatched" Caution "an overlay entry, or a part of it, fits no road";
    OverlayRefused "overlay-refused" Caution "an overlay entry asks for what is never done; the map stands";
    OverlayContradiction "overlay-contradiction" Caution "two overlay entries, or one and the request, contradict each other";
    Backing "backing" Caution "the vehicle must be backed here; a spotter is needed";
    YardTurn "yard-turn" Caution "the vehicle turns in a parking area or yard, which must be kept free";
    LaneCrowded "lane-crowded" Caution "a narrow road is so crowded that one tanker fewer would bring more water";
    PassingPlaces "passing-places" Note "a narrow road with passing places is taken as wide enough for two tankers";
    WidthUnknown "width-unknown" Note "the width of the road is not mapped";

    PlaceMoved "place-moved" Caution "a place is put on a road some way off";
    SiteFarFromRoad "site-far-from-road" Caution "a fill site lies far from the road it is served from";
    SiteUnverified "site-unverified" Caution "a fill site comes from map tags and was never tested";
    SiteNotRated "site-not-rated" Caution "the yield of a fill site cannot be worked out from what is given";
    SiteFlowAssumed "site-flow-assumed" Caution "the flow of a fill site is an assumption";
    SiteOutOfSeason "site-out-of-season" Note "a fill site is out of use in the season asked for";
    SiteOutOfService "site-out-of-service" Note "a fill site is marked out of service";
    SiteUnreachable "site-unreachable" Caution "no tanker can reach the fill site or come back from it";
    SiteResidualUnknown "site-residual-unknown" Caution "a hydrant's flow was measured without the pressure it left in the main";
    SiteStreamLimits "site-stream-limits" Caution "a stream carries less than the pump could draw";
    SiteShared "site-shared" Note "fill sites of an option draw on one main or pond and share what it gives";
    SiteIce "site-ice" Caution "ice is to be expected at a fill site in the month asked for";
    DroughtUnknown "drought-unknown" Caution "the lift at drought level is not given";
    SiteVolumeUnknown "site-volume-unknown" Caution "the volume of a pond or cistern is not given";
    SiteVolumeLimited "site-volume-limited" Caution "a source would be emptied within the operational period";
    LiftUnknown "lift-unknown" Caution "the lift at a draft site is not given";
    TankerCannotReach "tanker-cannot-reach" Caution "one tanker cannot drive a loop of the option";
    TankerLeftOut "tanker-left-out" Note "one tanker takes no part, for the others bring more without it";
    StationUnreachable "station-unreachable" Caution "a tanker's station has no way to the dump site";
    SupplyLineLimits "supply-line-limits" Note "the supply line carries less than the flow wanted";
    ElevationUnknown "elevation-unknown" Note "the height of the incident above a dump site is not known; the supply line is taken as level";
    HoseOffTruckRoads "hose-off-truck-roads" Note "the supply line goes on along a road that is closed to trucks";
    RigLimits "rig-limits" Note "the dump rig lets through less than the flow wanted; what to call for is said";
    RelayProposed "relay-proposed" Note "a pumper in the supply line would make it carry more; no figure counts it";
    DumpSpaceUnknown "dump-space-unknown" Caution "the width of the road at the dump site is not mapped; unknown is not room";
    DumpSpaceShort "dump-space-short" Caution "the road at the dump site is too short or too narrow for the tanks and a clear lane";
    StagingNone "staging-none" Caution "no road near the dump site is known to have room for the tankers that may wait";
    RoadLeftOut "road-left-out" Note "roads that are no stretch of a zone";
    AskBeforeRelying "ask-before-relying" Caution "a proposed fill site is where the map shows water; whether a pump can draft there is not known";
    CandidatesFound "candidates-found" Note "which places at open water were looked at for new fill sites, and which were not";
    CandidatesNone "candidates-none" Caution "no place at open water can be proposed as a new fill site";
    BuildingsUnknown "buildings-unknown" Note "the road file tells of no building; gaps are told without them";
    BuildingsOffRoads "buildings-off-roads" Note "buildings that lie far from every stretch of a zone";
    ColumnIgnored "column-ignored" Note "a column or property is not one the reader knows";
    ValueAssumed "value-assumed" Note "a value was not given and a default was used";
    DrillNotFitted "drill-not-fitted" Caution "a drill's log does not say something; the tool's own figure stays";
    DrillRowLeftOut "drill-row-left-out" Caution "a row of a drill's log lies so far out that it is left out";
    DrillApplied "drill-applied" Note "times fitted from a drill are used";
    DrillBasis "drill-basis" Caution "a drill's driving times were not compared with modelled ones";
    NotSimulated "not-simulated" Caution "only the closed form was asked for; flows are ceilings";
    CalledOff "called-off" Error "a plan was stopped before it was done";
    VerifyFailed "verify-failed" Error "the independent recomputation disagrees with the answer";
}

impl Serialize for Code {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

/// An OpenStreetMap element a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OsmRef {
    Node(i64),
    Way(i64),
    Relation(i64),
}

impl fmt::Display for OsmRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            OsmRef::Node(id) => write!(f, "node {id}"),
            OsmRef::Way(id) => write!(f, "way {id}"),
            OsmRef::Relation(id) => write!(f, "relation {id}"),
        }
    }
}

/// Where a finding was met: a file and row, a map element, a place, a named thing.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Where {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// 1-based line or feature number within the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub osm: Option<OsmRef>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

impl Where {
    pub fn file(file: impl fmt::Display) -> Self {
        Where { file: Some(file.to_string()), ..Where::default() }
    }
    pub fn row(mut self, row: usize) -> Self {
        self.row = Some(row);
        self
    }
    pub fn osm(osm: OsmRef) -> Self {
        Where { osm: Some(osm), ..Where::default() }
    }
    pub fn at(mut self, place: Place) -> Self {
        self.at = Some(place);
        self
    }
    pub fn named(mut self, name: impl Into<String>) -> Self {
        self.name = Some(name.into());
        self
    }
}

impl fmt::Display for Where {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts: Vec<String> = Vec::new();
        if let Some(file) = &self.file {
            parts.push(file.clone());
        }
        if let Some(row) = self.row {
            parts.push(format!("row {row}"));
        }
        if let Some(osm) = self.osm {
            parts.push(osm.to_string());
        }
        if let Some(name) = &self.name {
            parts.push(format!("\"{name}\""));
        }
        if let Some(at) = self.at {
            parts.push(format!("at {at}"));
        }
        f.write_str(&parts.join(", "))
    }
}

/// One thing noticed. The cause says what is so; the action says what to do about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    pub code: Code,
    pub severity: Severity,
    #[serde(rename = "where")]
    pub place: Where,
    pub cause: String,
    pub action: String,
}

impl Finding {
    pub fn new(code: Code, place: Where, cause: impl Into<String>, action: impl Into<String>) -> Self {
        Finding { code, severity: code.severity(), place, cause: cause.into(), action: action.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = self.place.to_string();
        let gap = if place.is_empty() { "" } else { ": " };
        let (first, rest) = self.action.split_at(self.action.chars().next().map_or(0, char::len_utf8));
        write!(f, "[{}] {place}{gap}{}. {}{rest}.", self.code.as_str(), self.cause, first.to_uppercase())
    }
}

/// Input that cannot be used: one or more findings of severity error.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal(pub Vec<Finding>);

pub type Outcome<T> = Result<T, Refusal>;

impl Refusal {
    pub fn new(code: Code, place: Where, cause: impl Into<String>, action: impl Into<String>) -> Self {
        Refusal(vec![Finding::new(code, place, cause, action)])
    }
}

impl From<Finding> for Refusal {
    fn from(finding: Finding) -> Self {
        Refusal(vec![finding])
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, finding) in self.0.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "error: {finding}")?;
        }
        Ok(())
    }
}
impl std::error::Error for Refusal {}

/// Findings in the order met, each said once.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Findings(Vec<Finding>);

impl Findings {
    pub fn new() -> Self {
        Self::default()
    }
    pub fn add(&mut self, finding: Finding) {
        if !self.0.contains(&finding) {
            self.0.push(finding);
        }
    }
    /// Adds without looking for a twin: for bulk readers that meet each element once.
    pub fn add_new(&mut self, finding: Finding) {
        self.0.push(finding);
    }
    pub fn extend(&mut self, other: impl IntoIterator<Item = Finding>) {
        for finding in other {
            self.add(finding);
        }
    }
    pub fn absorb_new(&mut self, other: Findings) {
        self.0.extend(other.0);
    }
    pub fn iter(&self) -> std::slice::Iter<'_, Finding> {
        self.0.iter()
    }
    pub fn len(&self) -> usize {
        self.0.len()
    }
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    pub fn has(&self, code: Code) -> bool {
        self.0.iter().any(|f| f.code == code)
    }
    /// Moves the errors out as a refusal; the rest stays.
    pub fn refuse_errors(&mut self) -> Outcome<()> {
        let (errors, rest): (Vec<_>, Vec<_>) =
            std::mem::take(&mut self.0).into_iter().partition(|f| f.severity == Severity::Error);
        self.0 = rest;
        if errors.is_empty() { Ok(()) } else { Err(Refusal(errors)) }
    }
}

impl IntoIterator for Findings {
    type Item = Finding;
    type IntoIter = std::vec::IntoIter<Finding>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl<'a> IntoIterator for &'a Findings {
    type Item = &'a Finding;
    type IntoIter = std::slice::Iter<'a, Finding>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

/// Reads a text file, or says in one line why it cannot be read.
pub fn read_text(path: &std::path::Path) -> Outcome<String> {
    let bytes = read_bytes(path)?;
    String::from_utf8(bytes).map_err(|_| {
        Refusal::new(
            Code::FileUnreadable,
            Where::file(path.display()),
            "the file is not UTF-8 text",
            "name a text file of the expected kind",
        )
    })
}

/// Reads a whole file, or says in one line why it cannot be read.
pub fn read_bytes(path: &std::path::Path) -> Outcome<Vec<u8>> {
    std::fs::read(path).map_err(|e| {
        let code =
            if e.kind() == std::io::ErrorKind::NotFound { Code::FileMissing } else { Code::FileUnreadable };
        Refusal::new(
            code,
            Where::file(path.display()),
            format!("the file cannot be opened ({e})"),
            "check the path, which is taken relative to the scenario file",
        )
    })
}

/// A TOML error as one line with file and line number.
pub fn toml_refusal(file: &str, text: &str, error: &toml::de::Error) -> Refusal {
    let mut place = Where::file(file);
    if let Some(span) = error.span() {
        place = place.row(1 + text[..span.start.min(text.len())].matches('\n').count());
    }
    Refusal::new(
        Code::InputInvalid,
        place,
        error.message().replace('\n', " "),
        "correct the line; data/ holds a complete example",
    )
}
