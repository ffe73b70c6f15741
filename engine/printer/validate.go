package printer

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// The ranges here are wide: they keep out slips of the key and hostile files,
// not unusual printers (CUSTOM).

// within is one number that must lie in [least, most].
type within struct {
	key         string
	v           float64
	least, most float64
	unit        string
}

func check(kind, id, name string, rows []within) error {
	if err := checkID(kind, id); err != nil {
		return err
	}
	if strings.TrimSpace(name) == "" || utf8.RuneCountInString(name) > 100 {
		return fmt.Errorf("%s %s: name must be 1 to 100 letters long", kind, id)
	}
	for _, r := range rows {
		if math.IsNaN(r.v) || r.v < r.least || r.v > r.most {
			unit := r.unit
			if unit != "" {
				unit = " " + unit
			}
			return fmt.Errorf("%s %s: %s is %v, but must be from %v to %v%s", kind, id, r.key, r.v, r.least, r.most, unit)
		}
	}
	return nil
}

func checkID(kind, id string) error {
	ok := id != "" && len(id) <= 60
	for _, r := range id {
		ok = ok && (r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-')
	}
	if !ok {
		return fmt.Errorf("%s %q: an id is made of small letters a to z, digits and hyphens, at most 60", kind, clip(id))
	}
	return nil
}

func oneOf[S ~string](kind, id, key string, v S, allowed ...S) error {
	if slices.Contains(allowed, v) {
		return nil
	}
	words := make([]string, len(allowed))
	for i, a := range allowed {
		words[i] = string(a)
	}
	return fmt.Errorf("%s %s: %s is %q, but must be one of %s", kind, id, key, clip(string(v)), strings.Join(words, ", "))
}

// Validate reports, in words, the first number that is not finite or not in a sane range.
func (p Printer) Validate() error {
	rows := []within{
		{"nozzle_mm", p.Nozzle, 0.05, 5, "mm"},
		{"tools", float64(p.Tools), 1, 2, ""},
		{"acceleration_mm_s2", p.Acceleration, 1, 1e5, "mm/s²"},
		{"travel_acceleration_mm_s2", p.TravelAcceleration, 1, 1e5, "mm/s²"},
		{"travel_speed_mm_s", p.TravelSpeed, 1, 5000, "mm/s"},
		{"corner_deviation_mm", p.CornerDeviation, 0.0001, 1, "mm"},
		{"retraction_length_mm", p.RetractionLength, 0, 50, "mm"},
		{"retraction_speed_mm_s", p.RetractionSpeed, 0.1, 500, "mm/s"},
		{"retraction_travel_mm", p.RetractionTravel, 0, 1000, "mm"},
		{"layer_change_time_s", p.LayerChangeTime, 0, 600, "s"},
		{"tool_change_time_s", p.ToolChangeTime, 0, 600, "s"},
		{"purge_volume_mm3", p.PurgeVolume, 0, 10000, "mm³"},
		{"start_time_s", p.StartTime, 0, 3600, "s"},
		{"end_time_s", p.EndTime, 0, 3600, "s"},
		{"heat_rate_k_s", p.HeatRate, 0.01, 100, "K/s"},
		{"platform_heat_rate_k_s", p.PlatformHeatRate, 0.01, 100, "K/s"},
		{"ambient_c", p.AmbientC, -20, 90, "°C"},
	}
	for axis := range 3 {
		rows = append(rows,
			within{fmt.Sprintf("volume_mm[%d]", axis), p.Volume[axis], 10, 2000, "mm"},
			within{fmt.Sprintf("max_speed_mm_s[%d]", axis), p.MaxSpeed[axis], 0.1, 5000, "mm/s"},
			within{fmt.Sprintf("max_acceleration_mm_s2[%d]", axis), p.MaxAcceleration[axis], 1, 1e5, "mm/s²"})
	}
	if err := check("printer", p.ID, p.Name, rows); err != nil {
		return err
	}
	return oneOf("printer", p.ID, "origin", p.Origin, "corner", "centre")
}

// Validate reports, in words, the first number that is not finite or not in a sane range.
func (m Material) Validate() error {
	err := check("material", m.ID, m.Name, []within{
		{"density_g_cm3", m.Density, 0.1, 20, "g/cm³"},
		{"diameter_mm", m.Diameter, 0.5, 10, "mm"},
		{"nozzle_c", m.NozzleC, 20, 600, "°C"},
		{"platform_c", m.PlatformC, 0, 300, "°C"},
		{"max_flow_mm3_s", m.MaxFlow, 0.01, 1000, "mm³/s"},
		{"min_layer_time_s", m.MinLayerTime, 0, 600, "s"},
		{"spool_g", m.SpoolGrams, 1, 100000, "g"},
	})
	if err == nil && len(m.Cautions) > 50 {
		err = fmt.Errorf("material %s: %d cautions are more than anyone reads; keep at most 50", m.ID, len(m.Cautions))
	}
	return err
}

// Validate reports, in words, the first number that is not finite or not in a
// sane range, and a layer too high for its bead.
func (w Way) Validate() error {
	err := check("way", w.ID, w.Name, []within{
		{"layer_height_mm", w.LayerHeight, 0.02, 3, "mm"},
		{"first_layer_height_mm", w.FirstLayerHeight, 0.02, 3, "mm"},
		{"bead_width_mm", w.BeadWidth, 0.05, 6, "mm"},
		{"shells", float64(w.Shells), 0, 100, ""},
		{"solid_top", float64(w.SolidTop), 0, 1000, ""},
		{"solid_bottom", float64(w.SolidBottom), 0, 1000, ""},
		{"infill_percent", w.Infill, 0, 100, "%"},
		{"support_angle_deg", w.SupportAngle, 0, 90, "degrees"},
		{"support_infill_percent", w.SupportInfill, 1, 100, "%"},
		{"support_gap_mm", w.SupportGap, 0, 20, "mm"},
		{"support_gap_layers", float64(w.SupportGapLayers), 0, 20, ""},
		{"support_contact_layers", float64(w.SupportInterface), 0, 50, ""},
		{"skirt_rounds", float64(w.SkirtLoops), 0, 50, ""},
		{"skirt_gap_mm", w.SkirtGap, 0, 50, "mm"},
		{"brim_width_mm", w.BrimWidth, 0, 50, "mm"},
		{"raft_margin_mm", w.RaftMargin, 0, 50, "mm"},
		{"raft_layers", float64(w.RaftLayers), 0, 20, ""},
		{"shell_speed_mm_s", w.ShellSpeed, 0.1, 2000, "mm/s"},
		{"inner_shell_speed_mm_s", w.InnerShellSpeed, 0.1, 2000, "mm/s"},
		{"solid_speed_mm_s", w.SolidSpeed, 0.1, 2000, "mm/s"},
		{"infill_speed_mm_s", w.InfillSpeed, 0.1, 2000, "mm/s"},
		{"support_speed_mm_s", w.SupportSpeed, 0.1, 2000, "mm/s"},
		{"first_layer_speed_mm_s", w.FirstLayerSpeed, 0.1, 2000, "mm/s"},
	})
	if err == nil {
		err = oneOf("way", w.ID, "pattern", w.Pattern, Lines, Grid, Curve)
	}
	if err == nil {
		err = oneOf("way", w.ID, "supports", w.Supports, NoSupports, Breakaway, Soluble)
	}
	if err == nil {
		err = oneOf("way", w.ID, "base", w.Base, NoBase, Skirt, Brim, Raft)
	}
	if highest := max(w.LayerHeight, w.FirstLayerHeight); err == nil && highest > w.BeadWidth {
		err = fmt.Errorf("way %s: a layer %v mm high is higher than its bead is wide (%v mm); make the layer lower or the bead wider",
			w.ID, highest, w.BeadWidth)
	}
	return err
}

// Fits reports why w cannot be laid by p: a bead must be from about half to two
// and a half nozzles wide and a layer at most 0.8 nozzle high (CUSTOM), and
// soluble supports need a second material.
func (w Way) Fits(p Printer) error {
	switch highest := max(w.LayerHeight, w.FirstLayerHeight); {
	case w.BeadWidth < 0.5*p.Nozzle || w.BeadWidth > 2.5*p.Nozzle:
		return fmt.Errorf("a nozzle of %v mm cannot lay beads %v mm wide; choose from %.2f to %.2f mm",
			p.Nozzle, w.BeadWidth, 0.5*p.Nozzle, 2.5*p.Nozzle)
	case highest > 0.8*p.Nozzle:
		return fmt.Errorf("a nozzle of %v mm cannot lay layers %v mm high; choose at most %.2f mm", p.Nozzle, highest, 0.8*p.Nozzle)
	case w.Supports == Soluble && p.Tools < 2:
		return fmt.Errorf("soluble supports need a second material, and %s holds one; choose breakaway supports or another printer", p.Name)
	}
	return nil
}
