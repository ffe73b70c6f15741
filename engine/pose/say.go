package pose

import (
	"math"
	"strconv"
	"strings"
)

// why explains the chosen pose, held against the part as given, in a sentence.
func why(c, own *Candidate) string {
	if c.rank == tooBig {
		return "It fits in none of the ways it was tried: the best of them would be " + sides(c.Box) + "."
	}
	is := c.From == AsGiven
	s := way(c) + ", "
	switch none := c.SupportVolume == 0; {
	case is && none:
		s += "it needs no supports"
	case is:
		s += "it needs " + litres(c.SupportVolume) + " of supports, and no other way tried is better"
	case none && own.SupportVolume == 0:
		s += "it needs no supports, as before"
	case none:
		s += "it needs no supports instead of " + litres(own.SupportVolume)
	case litres(c.SupportVolume) == litres(own.SupportVolume):
		s += "it needs " + litres(c.SupportVolume) + " of supports, as before"
	default:
		s += "it needs " + litres(c.SupportVolume) + " of supports instead of " + litres(own.SupportVolume)
	}
	if !is && math.Abs(c.Height-own.Height) > 0.2*own.Height {
		s += ", is " + figure(c.Height) + " mm tall instead of " + figure(own.Height)
	}
	switch {
	case c.rank == unplanned:
		s += ", but " + c.Against
	case c.rank == topples:
		s += ", but it does not stand by itself"
	case c.rank == unsteady:
		s += ", but it does not stand firmly: it would tip over at a tilt of " + degrees(c.Tipping)
	case c.Tipping > 20*math.Pi/180:
		s += ", and it stands firmly"
	default:
		s += ", and it stands"
	}
	if !is {
		switch own.rank {
		case tooBig:
			s += "; as the file has it, it does not fit"
		case topples:
			s += "; as the file has it, it would fall over"
		case unsteady:
			s += "; as the file has it, it would tip over easily"
		}
	}
	return s + "."
}

// way names a pose.
func way(c *Candidate) string {
	flat := c.Face > 0 && c.Contact > 0.2*c.Box[0]*c.Box[1]
	switch {
	case c.From == AsGiven:
		return "As the file has it"
	case flat && c.Height < min(c.Box[0], c.Box[1]):
		return "Lying on its large flat side"
	case c.Down[2] > 1-1e-6:
		return "Upside down"
	case flat:
		return "Standing on its flat side"
	case c.From == FromAxis:
		return "Standing along its axis"
	case math.Abs(c.Down[2]) < 0.1:
		return "Laid on its side"
	}
	return "Tilted"
}

// litres writes a volume in cm³, as spools and measuring cups have it.
func litres(mm3 float64) string {
	if mm3 < 100 {
		return "less than 0.1 cm³"
	}
	return figure(mm3/1000) + " cm³"
}

func degrees(radians float64) string { return figure(radians*180/math.Pi) + "°" }

func sides(v [3]float64) string {
	var s []string
	for _, x := range v {
		if math.IsInf(x, 0) {
			s = append(s, "any")
		} else {
			s = append(s, figure(x))
		}
	}
	return strings.Join(s, " × ") + " mm"
}

// figure writes a number with the digits that matter to people.
func figure(x float64) string {
	decimals := 0
	if a := math.Abs(x); a < 9.95 {
		decimals = 1
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if t, ok := strings.CutSuffix(s, ".0"); ok {
		s = t
	}
	return s
}
