package quote

import (
	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// Answer is what Platebook says of one print. Field names carry their units;
// the JSON form is the program's --json output. Sentences are in English; beside
// each stands its saying, by which it can be said in other languages.
type Answer struct {
	File          string       `json:"file"`           // the first source
	With          []string     `json:"with,omitempty"` // further sources, as colour parts
	Format        string       `json:"format"`         // empty when unreadable
	Facets        int          `json:"facets"`
	Unit          string       `json:"unit"` // the unit the file was read in
	UnitReason    string       `json:"unit_reason,omitempty"`
	UnitSaying    say.Saying   `json:"unit_saying,omitzero"`
	Closed        bool         `json:"closed"` // after healing
	ClosedAsSent  bool         `json:"closed_as_sent"`
	Bodies        int          `json:"bodies"`
	Cavities      int          `json:"cavities"`
	VolumeMM3     float64      `json:"volume_mm3"` // at printed size; of an open mesh, what its sections hold
	AreaMM2       float64      `json:"area_mm2"`
	SizeMM        mesh.Vec     `json:"size_mm"`
	Scale         float64      `json:"scale"`          // printed size over size in the file
	Pose          string       `json:"pose,omitempty"` // why it was turned, if it was asked to be
	PoseSaying    say.Saying   `json:"pose_saying,omitzero"`
	Healed        []string     `json:"healed,omitempty"`
	HealedSayings []say.Saying `json:"healed_sayings,omitempty"`
	ColourParts   []Colour     `json:"colour_parts,omitempty"` // when more than one

	Findings  []findings.Finding `json:"findings"`
	Printable bool               `json:"printable"` // no finding stops it

	*Figures // nil for a check, and for what cannot be planned

	// Solid is the healed part at printed size, standing on z = 0 with the
	// middle of its footprint at x = y = 0; nil when unreadable.
	Solid *mesh.Mesh `json:"-"`
	// Plan is what the figures were computed from.
	Plan *plan.Plan `json:"-"`
}

// Colour is one colour part of a print.
type Colour struct {
	Name     string `json:"name"`
	Colour   string `json:"colour,omitempty"` // as the file says it, #RRGGBB
	Material string `json:"material"`
}

// Figures are what a print takes and costs. Those of mass and time are for all
// copies together, printed one after another.
type Figures struct {
	Printer  string  `json:"printer"`
	Way      string  `json:"way"`
	Copies   int     `json:"copies"`
	Layers   int     `json:"layers"` // of one copy, base included
	HeightMM float64 `json:"height_mm"`
	// MassG is by material, what the parts keep and what is thrown away.
	MassG        map[string]float64 `json:"mass_g"`
	SupportsG    float64            `json:"supports_g"`   // of that, supports
	BasePurgeG   float64            `json:"base_purge_g"` // of that, base and purge
	FilamentM    map[string]float64 `json:"filament_m"`   // the same as lengths
	TimeS        float64            `json:"time_s"`       // all copies
	PrintTimeS   float64            `json:"print_time_s"` // one print, warm-up included
	TimeParts    TimeParts          `json:"time_parts_s"` // of one print
	Price        tariff.Price       `json:"price"`
	PriceSaid    []string           `json:"price_said"` // how grams and money were rounded
	PriceSayings []say.Saying       `json:"price_sayings,omitempty"`
}

// TimeParts is where the seconds of one print go.
type TimeParts struct {
	WarmUp      float64 `json:"warm_up"`
	Shells      float64 `json:"shells"`
	Solid       float64 `json:"solid_layers"`
	Infill      float64 `json:"infill"`
	Supports    float64 `json:"supports"`
	BasePurge   float64 `json:"base_purge"`
	Travel      float64 `json:"travel"`
	LayerChange float64 `json:"layer_change"`
	ToolChange  float64 `json:"tool_change"`
	Waiting     float64 `json:"waiting"` // for layers to set
}

func timeParts(t motion.Time) TimeParts {
	k := t.Kind
	return TimeParts{
		WarmUp:      t.WarmUp,
		Shells:      k[plan.OuterShell] + k[plan.InnerShell] + k[plan.ThinWall],
		Solid:       k[plan.Solid],
		Infill:      k[plan.Infill],
		Supports:    k[plan.Support] + k[plan.SupportInterface],
		BasePurge:   k[plan.Base] + k[plan.Purge],
		Travel:      t.Travel + t.Retraction,
		LayerChange: t.LayerChange,
		ToolChange:  t.ToolChange,
		Waiting:     t.Waiting,
	}
}
