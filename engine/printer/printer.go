package printer

// Printer is a printer model with the nozzle it carries. Lengths are mm,
// times s, speeds mm/s, accelerations mm/s². Axis triples are x, y, z.
type Printer struct {
	ID     string     `toml:"-"`
	Name   string     `toml:"name"`
	Volume [3]float64 `toml:"volume_mm"` // build volume
	Origin string     `toml:"origin"`    // "corner" or "centre" of the platform (ISO/ASTM 52921 uses the centre)
	Nozzle float64    `toml:"nozzle_mm"` // nozzle diameter
	Tools  int        `toml:"tools"`     // materials it can hold at once: 1 or 2

	MaxSpeed           [3]float64 `toml:"max_speed_mm_s"`         // per axis
	MaxAcceleration    [3]float64 `toml:"max_acceleration_mm_s2"` // per axis
	Acceleration       float64    `toml:"acceleration_mm_s2"`     // while depositing
	TravelAcceleration float64    `toml:"travel_acceleration_mm_s2"`
	TravelSpeed        float64    `toml:"travel_speed_mm_s"`
	CornerDeviation    float64    `toml:"corner_deviation_mm"` // mm a corner may be cut by: sets corner speed

	RetractionLength float64 `toml:"retraction_length_mm"` // of filament
	RetractionSpeed  float64 `toml:"retraction_speed_mm_s"`
	RetractionTravel float64 `toml:"retraction_travel_mm"`   // travels shorter than this do not retract
	LayerChangeTime  float64 `toml:"layer_change_time_s"`    // s beyond the Z move itself
	ToolChangeTime   float64 `toml:"tool_change_time_s"`     // s per change of material
	PurgeVolume      float64 `toml:"purge_volume_mm3"`       // mm³ deposited per change of material
	StartTime        float64 `toml:"start_time_s"`           // s: homing, levelling
	EndTime          float64 `toml:"end_time_s"`             // s: cooling moves
	HeatRate         float64 `toml:"heat_rate_k_s"`          // K/s of the nozzle, from AmbientC
	PlatformHeatRate float64 `toml:"platform_heat_rate_k_s"` // K/s of the platform, from AmbientC
	AmbientC         float64 `toml:"ambient_c"`

	DefaultMaterial        string `toml:"default_material"`
	DefaultSupportMaterial string `toml:"default_support_material"`
	DefaultWay             string `toml:"default_way"`
}

// Material is one filament material.
type Material struct {
	ID           string   `toml:"-"`
	Name         string   `toml:"name"`
	Density      float64  `toml:"density_g_cm3"` // g/cm³
	Diameter     float64  `toml:"diameter_mm"`   // filament diameter, mm
	NozzleC      float64  `toml:"nozzle_c"`
	PlatformC    float64  `toml:"platform_c"`
	MaxFlow      float64  `toml:"max_flow_mm3_s"`   // mm³/s the nozzle can melt
	MinLayerTime float64  `toml:"min_layer_time_s"` // s a layer needs to set
	Soluble      bool     `toml:"soluble"`
	SpoolGrams   float64  `toml:"spool_g"` // a full spool
	Cautions     []string `toml:"cautions"`
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
	ID               string  `toml:"-"`
	Name             string  `toml:"name"`
	LayerHeight      float64 `toml:"layer_height_mm"`
	FirstLayerHeight float64 `toml:"first_layer_height_mm"`
	// BeadWidth is the width a bead fills: a bead of length l deposits
	// BeadWidth × layer height × l, so beads side by side at this pitch fill
	// a layer exactly.
	BeadWidth   float64 `toml:"bead_width_mm"`
	Shells      int     `toml:"shells"`
	SolidTop    int     `toml:"solid_top"`      // solid layers
	SolidBottom int     `toml:"solid_bottom"`   // solid layers
	Infill      float64 `toml:"infill_percent"` // density, percent; 100 fills solid
	Pattern     Pattern `toml:"pattern"`

	Supports         Supports `toml:"supports"`
	SupportAngle     float64  `toml:"support_angle_deg"`      // overhangs leaning further than this from the vertical are held up
	SupportInfill    float64  `toml:"support_infill_percent"` // density, percent
	SupportGap       float64  `toml:"support_gap_mm"`         // sideways gap to the part
	SupportGapLayers int      `toml:"support_gap_layers"`     // empty layers between breakaway supports and the part
	SupportInterface int      `toml:"support_contact_layers"` // dense layers next to the part
	Base             Base     `toml:"base"`
	SkirtLoops       int      `toml:"skirt_rounds"`
	SkirtGap         float64  `toml:"skirt_gap_mm"`
	BrimWidth        float64  `toml:"brim_width_mm"`
	RaftMargin       float64  `toml:"raft_margin_mm"`
	RaftLayers       int      `toml:"raft_layers"`

	ShellSpeed      float64 `toml:"shell_speed_mm_s"`
	InnerShellSpeed float64 `toml:"inner_shell_speed_mm_s"`
	SolidSpeed      float64 `toml:"solid_speed_mm_s"`
	InfillSpeed     float64 `toml:"infill_speed_mm_s"`
	SupportSpeed    float64 `toml:"support_speed_mm_s"`
	FirstLayerSpeed float64 `toml:"first_layer_speed_mm_s"`
}
