package work

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"platebook/engine/quote"
	"platebook/engine/say"
)

// says puts a way into a sentence. What the engine says of one print holds for
// the way; of several prints together it is said here, as their price is.
func (m *made) says(sensible *made) say.Saying {
	if m.alone() {
		return m.offers[0].Saying
	}
	s := m.start(sensible)
	if len(m.parts) > 1 || m.parts[0].ask.Copies > 1 {
		s = say.Join(" ", s, say.Of("%s on %s.", say.Counted(m.copies(), "%d part", "%d parts"), say.Counted(len(m.way.Plates), "%d plate", "%d plates")))
	}
	return s
}

func (m *made) copies() (n int) {
	for _, p := range m.parts {
		n += p.ask.Copies
	}
	return n
}

func (m *made) start(sensible *made) say.Saying {
	price, was := money(m), money(sensible)
	takes := longer(m.way.Seconds - sensible.way.Seconds)
	a, b := extremes(sensible.offers), extremes(m.offers)
	switch m.id {
	case "sensible":
		for i, o := range m.offers {
			if !strings.HasPrefix(o.Says, "The library's usual way.") {
				return m.own(i)
			}
		}
		return say.Of("The library's usual way.")
	case "cheaper":
		return say.Start(say.Of("%s instead of %s: %s; it %s.", price, was, givesUp(a, b), takes))
	case "finer":
		return say.Of("Layers down to %s mm instead of %s show less; it %s and costs %s.", number(b.thin), number(a.thin), takes, price)
	case "largest":
		for i := range m.offers {
			if m.offers[i].ID == "largest" {
				return say.Join(" ", m.own(i), say.Of("All together it costs %s.", price))
			}
		}
	case "soluble":
		return say.Of("Supports that dissolve in water leave a cleaner surface; it %s and costs %s instead of %s.", takes, price, was)
	}
	return say.Saying{}
}

// own says how one part is printed, without the engine's price of it alone.
func (m *made) own(i int) say.Saying {
	o := m.offers[i]
	s := say.Of("%s %% of the size in the file, with %s %% infill and layers of %s mm.",
		number(100*o.Scale), number(o.Settings.InfillPercent), number(o.Settings.LayerHeightMM))
	if len(m.parts) > 1 {
		s = say.Of("%s: %s", m.parts[i].name, s)
	}
	return say.Start(s)
}

// span is what the offers of a way have of layers and infill.
type span struct{ thin, thick, sparse float64 }

func extremes(offers []quote.Offer) span {
	s := span{math.Inf(1), 0, math.Inf(1)}
	for _, o := range offers {
		s.thin = min(s.thin, o.Settings.LayerHeightMM)
		s.thick = max(s.thick, o.Settings.LayerHeightMM)
		s.sparse = min(s.sparse, o.Settings.InfillPercent)
	}
	return s
}

func givesUp(a, b span) say.Saying {
	var out []say.Saying
	if b.sparse < a.sparse {
		out = append(out, say.Of("it is lighter inside (down to %s %% infill instead of %s %%) and not as strong", number(b.sparse), number(a.sparse)))
	}
	if b.thick > a.thick {
		out = append(out, say.Of("its layers show more (up to %s mm instead of %s mm)", number(b.thick), number(a.thick)))
	}
	if len(out) == 0 {
		return say.Of("some of the parts are lighter inside, or their layers show more")
	}
	return say.Join(", and ", out...)
}

func money(m *made) say.Saying {
	return say.Money(say.Digits(m.way.Price.Total.Number()), m.way.Price.Currency)
}

// longer says a difference of printing time.
func longer(d float64) say.Saying {
	switch {
	case d > 60:
		return say.Of("takes %s longer", hours(d))
	case d < -60:
		return say.Of("takes %s less", hours(-d))
	}
	return say.Of("takes as long")
}

// hours writes a time for people, to the minute, upward.
func hours(s float64) say.Saying {
	m := int(math.Ceil(s / 60))
	switch {
	case m < 60:
		return say.Of("%d min", m)
	case m%60 == 0:
		return say.Of("%d h", m/60)
	}
	return say.Of("%d h %d min", m/60, m%60)
}

func number(x float64) say.Digits {
	return say.Digits(strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64))
}

// upper begins with a capital.
func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
