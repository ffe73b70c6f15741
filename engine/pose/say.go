package pose

import (
	"math"
	"strconv"
	"strings"

	"platebook/engine/say"
)

// why explains the chosen pose, held against the part as given, in a sentence.
func why(c, own *Candidate) say.Saying {
	if c.rank == tooBig {
		return say.Of("It fits in none of the ways it was tried: the best of them would be %s.", sides(c.Box))
	}
	is := c.From == AsGiven
	var needs, tall, stands, instead say.Saying
	switch none := c.SupportVolume == 0; {
	case is && none:
		needs = say.Of("it needs no supports")
	case is:
		needs = say.Of("it needs %s of supports, and no other way tried is better", litres(c.SupportVolume))
	case none && own.SupportVolume == 0:
		needs = say.Of("it needs no supports, as before")
	case none:
		needs = say.Of("it needs no supports instead of %s", litres(own.SupportVolume))
	case litres(c.SupportVolume).String() == litres(own.SupportVolume).String():
		needs = say.Of("it needs %s of supports, as before", litres(c.SupportVolume))
	default:
		needs = say.Of("it needs %s of supports instead of %s", litres(c.SupportVolume), litres(own.SupportVolume))
	}
	if !is && math.Abs(c.Height-own.Height) > 0.2*own.Height {
		tall = say.Of(", is %s mm tall instead of %s", figure(c.Height), figure(own.Height))
	}
	switch {
	case c.rank == unplanned:
		stands = say.Of(", but %s", c.Against)
	case c.rank == topples:
		stands = say.Of(", but it does not stand by itself")
	case c.rank == unsteady:
		stands = say.Of(", but it does not stand firmly: it would tip over at a tilt of %s", degrees(c.Tipping))
	case c.Tipping > 20*math.Pi/180:
		stands = say.Of(", and it stands firmly")
	default:
		stands = say.Of(", and it stands")
	}
	if !is {
		switch own.rank {
		case tooBig:
			instead = say.Of("; as the file has it, it does not fit")
		case topples:
			instead = say.Of("; as the file has it, it would fall over")
		case unsteady:
			instead = say.Of("; as the file has it, it would tip over easily")
		}
	}
	return say.Of("%s, %s%s%s%s.", way(c), needs, tall, stands, instead)
}

// way names a pose.
func way(c *Candidate) say.Saying {
	flat := c.Face > 0 && c.Contact > 0.2*c.Box[0]*c.Box[1]
	switch {
	case c.From == AsGiven:
		return say.Of("As the file has it")
	case flat && c.Height < min(c.Box[0], c.Box[1]):
		return say.Of("Lying on its large flat side")
	case c.Down[2] > 1-1e-6:
		return say.Of("Upside down")
	case flat:
		return say.Of("Standing on its flat side")
	case c.From == FromAxis:
		return say.Of("Standing along its axis")
	case math.Abs(c.Down[2]) < 0.1:
		return say.Of("Laid on its side")
	}
	return say.Of("Tilted")
}

// litres writes a volume in cm³, as spools and measuring cups have it.
func litres(mm3 float64) say.Saying {
	if mm3 < 100 {
		return say.Of("less than %s cm³", say.Digits("0.1"))
	}
	return say.Of("%s cm³", figure(mm3/1000))
}

func degrees(radians float64) say.Saying { return say.Of("%s°", figure(radians*180/math.Pi)) }

func sides(v [3]float64) say.Saying {
	var s [3]say.Saying
	for i, x := range v {
		s[i] = say.Figure(figure(x))
		if math.IsInf(x, 0) {
			s[i] = say.Of("any")
		}
	}
	return say.Of("%s × %s × %s mm", s[0], s[1], s[2])
}

// figure writes a number with the digits that matter to people.
func figure(x float64) say.Digits {
	decimals := 0
	if a := math.Abs(x); a < 9.95 {
		decimals = 1
	}
	return say.Digits(strings.TrimSuffix(strconv.FormatFloat(x, 'f', decimals, 64), ".0"))
}
