package printer

// Printer is a printer model with the nozzle it carries. Lengths are mm,
// times s, speeds mm/s, accelerations mm/s². Axis triples are x, y, z.
type Printer struct {
	ID, Name string
	Volume   [3]float64 // build volume
	Origin   string     // "corner" or "centre" of the platform (ISO/ASTM 52921 uses the centre)
	Nozzle   float64    // nozzle diameter
	Tools    int        // materials it can hold at once: 1 or 2

	MaxSpeed           [3]float64 // per axis
	MaxAcceleration    [3]float64 // per axis
	Acceleration       float64    // while depositing
	TravelAcceleration float64
	TravelSpeed        float64
	CornerDeviation    float64 // mm a corner may be cut by: sets corner speed

	RetractionLength, RetractionSpeed float64 // of filament
	RetractionTravel                  float64 // travels shorter than this do not retract
	LayerChangeTime                   float64 // s beyond the Z move itself
	ToolChangeTime                    float64 // s per change of material
	PurgeVolume                       float64 // mm³ deposited per change of material
	StartTime, EndTime                float64 // s: homing, levelling, cooling moves
	HeatRate, PlatformHeatRate        float64 // K/s for warm-up from AmbientC
	AmbientC                          float64

	DefaultMaterial, DefaultSupportMaterial, DefaultWay string
}

// Material is one filament material.
type Material struct {
	ID, Name           string
	Density            float64 // g/cm³
	Diameter           float64 // filament diameter, mm
	NozzleC, PlatformC float64
	MaxFlow            float64 // mm³/s the nozzle can melt
	MinLayerTime       float64 // s a layer needs to set
	Soluble            bool
	SpoolGrams         float64 // a full spool
	Cautions           []string
}

// Supports says what holds overhangs up while printing.
type Supports string

const (
	NoSupports Supports = "none"
	Breakaway  Supports = "breakaway"
	Soluble    Supports = "soluble"
)

// Base says what helps the first layer hold (PWG 5100.21 print-base).
type Base string

const (
	NoBase Base = "none"
	Skirt  Base = "skirt"
	Brim   Base = "brim"
	Raft   Base = "raft"
)

// Pattern names how sparse infill is laid.
type Pattern string

const (
	Lines Pattern = "lines" // one direction a layer, turning from layer to layer
	Grid  Pattern = "grid"  // two directions in each layer
	Curve Pattern = "curve" // one space-filling curve (Hilbert)
)

// Way is one complete way to lay material, apart from size and pose. Lengths
// are mm, densities percent, angles degrees from the vertical, speeds mm/s.
type Way struct {
	ID, Name         string
	LayerHeight      float64
	FirstLayerHeight float64
	// BeadWidth is the width a bead fills: a bead of length l deposits
	// BeadWidth × layer height × l, so beads side by side at this pitch fill
	// a layer exactly.
	BeadWidth   float64
	Shells      int
	SolidTop    int // solid layers
	SolidBottom int
	Infill      float64 // density, percent; 100 fills solid
	Pattern     Pattern

	Supports         Supports
	SupportAngle     float64 // overhangs leaning further than this from the vertical are held up
	SupportInfill    float64 // density, percent
	SupportGap       float64 // sideways gap to the part
	SupportGapLayers int     // empty layers between breakaway supports and the part
	SupportInterface int     // dense layers next to the part
	Base             Base
	SkirtLoops       int
	SkirtGap         float64
	BrimWidth        float64
	RaftMargin       float64
	RaftLayers       int

	ShellSpeed, InnerShellSpeed, SolidSpeed, InfillSpeed, SupportSpeed, FirstLayerSpeed float64
}
