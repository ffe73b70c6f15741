package work

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"platebook/engine/quote"
)

// says puts a way into a sentence. What the engine says of one print holds for
// the way; of several prints together it is said here, as their price is.
func (m *made) says(sensible *made) string {
	if m.alone() {
		return m.offers[0].Says
	}
	s := m.start(sensible)
	if len(m.parts) > 1 || m.parts[0].ask.Copies > 1 {
		s += fmt.Sprintf(" %s on %s.", count(m.copies(), "part"), count(len(m.way.Plates), "plate"))
	}
	return s
}

func (m *made) copies() (n int) {
	for _, p := range m.parts {
		n += p.ask.Copies
	}
	return n
}

func (m *made) start(sensible *made) string {
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
		return "The library's usual way."
	case "cheaper":
		return upper(fmt.Sprintf("%s instead of %s: %s; it %s.", price, was, givesUp(a, b), takes))
	case "finer":
		return fmt.Sprintf("Layers down to %s mm instead of %s show less; it %s and costs %s.", number(b.thin), number(a.thin), takes, price)
	case "largest":
		for i := range m.offers {
			if m.offers[i].ID == "largest" {
				return m.own(i) + fmt.Sprintf(" All together it costs %s.", price)
			}
		}
	case "soluble":
		return fmt.Sprintf("Supports that dissolve in water leave a cleaner surface; it %s and costs %s instead of %s.", takes, price, was)
	}
	return ""
}

// own says how one part is printed, without the engine's price of it alone.
func (m *made) own(i int) string {
	o := m.offers[i]
	of := ""
	if len(m.parts) > 1 {
		of = m.parts[i].name + ": "
	}
	return upper(fmt.Sprintf("%s%s %% of the size in the file, with %s %% infill and layers of %s mm.",
		of, number(100*o.Scale), number(o.Settings.InfillPercent), number(o.Settings.LayerHeightMM)))
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

func givesUp(a, b span) string {
	var out []string
	if b.sparse < a.sparse {
		out = append(out, fmt.Sprintf("it is lighter inside (down to %s %% infill instead of %s %%) and not as strong", number(b.sparse), number(a.sparse)))
	}
	if b.thick > a.thick {
		out = append(out, fmt.Sprintf("its layers show more (up to %s mm instead of %s mm)", number(b.thick), number(a.thick)))
	}
	if len(out) == 0 {
		return "some of the parts are lighter inside, or their layers show more"
	}
	return strings.Join(out, ", and ")
}

func money(m *made) string { return m.way.Price.Currency + " " + m.way.Price.Total.Number() }

// longer says a difference of printing time.
func longer(d float64) string {
	switch {
	case d > 60:
		return "takes " + hours(d) + " longer"
	case d < -60:
		return "takes " + hours(-d) + " less"
	}
	return "takes as long"
}

// hours writes a time for people, to the minute, upward.
func hours(s float64) string {
	m := int(math.Ceil(s / 60))
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

func number(x float64) string { return strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64) }

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// upper begins with a capital.
func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
