package printer

import "math"

// Grams returns the mass of mm3 cubic millimetres of the material.
func (m Material) Grams(mm3 float64) float64 {
	return mm3 * m.Density / 1000 // g/cm³ over mm³ per cm³
}

// CrossSection returns the area of the filament's circular section, mm².
func (m Material) CrossSection() float64 {
	return math.Pi / 4 * float64(m.Diameter*m.Diameter)
}

// Metres returns the length of filament that holds grams of the material, m.
// It is 0 for a material without density or diameter.
func (m Material) Metres(grams float64) float64 {
	perMetre := m.Grams(1000 * m.CrossSection())
	if !(perMetre > 0) {
		return 0
	}
	return grams / perMetre
}
