package mail

import (
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var wishStock = Stock{
	Colours:   []string{"red", "blue", "black", "grey", "gold", "white", "green", "yellow", "orange", "pink", "purple", "clear"},
	Materials: map[string]string{"pla": "pla", "petg": "petg", "tpu 95a": "tpu", "tpu": "tpu"},
	Branches:  map[string]string{"Mill Street": "b1", "Harbour": "b2", "Northfield": "b3"},
	Today:     time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC), // a Wednesday
}

// Letters as people write them (CUSTOM), with what staff would underline.
func TestWishes(t *testing.T) {
	for _, c := range []struct {
		text string
		want []string
	}{
		{"Could I have two of these in red please, about 6 cm tall?", []string{"copies 2", "colour red", "size 60 tall"}},
		{"Please print this as big as possible, in PLA. I can pick it up at Mill Street.", []string{"largest yes", "material pla", "branch b1"}},
		{"3 copies, 2.5 inches, black. Needed by Friday.", []string{"copies 3", "size 63.5", "colour black", "needed 2026-03-06"}},
		{"Size: 60 x 40 x 20 mm, 20% infill, no supports", []string{"size 60", "infill 20", "supports none"}},
		{"It should be 120mm wide and for 14 March", []string{"size 120 wide", "needed 2026-03-14"}},
		{"Bonjour, je voudrais trois exemplaires en bleu, 8,5 cm de haut, avant le 20 mars.", []string{"copies 3", "colour blue", "size 85 tall", "needed 2026-03-20"}},
		{"J'aimerais en avoir deux en gris, le plus grand possible, d'ici deux semaines, sans supports svp", []string{"copies 2", "colour grey", "largest yes", "needed 2026-03-18", "supports none"}},
		{"Half the size please, blue or red", []string{"scale 0.5", "colour blue", "colour red"}},
		{"Any colour but not red. x4", []string{"copies 4"}},
		{"print it at 50%", []string{"scale 0.5"}},
		{"Layer height 0.2 mm if you can", nil},
		{"I have 3 in red already, my phone is 555-0134 mm", nil},
		{"Is 12 mm³ a lot? En or, ou en rouge.", []string{"colour gold", "colour red"}},
		{"The colour of sacred predators", nil},
		{"by 31 June or by 2020-01-01", nil},
		{"Please don't print it in red.", nil},
		{"I don't want red. Blue is fine.", []string{"colour blue"}},
		{"It is a model of the Harbour wall", nil},
		{"I collect it from the Harbour branch, 3\" long", []string{"branch b2", "size 76.2"}},
		{"do not print it with supports", nil},
		{"", nil},
	} {
		var got []string
		for _, g := range Wishes(c.text, wishStock) {
			got = append(got, strings.TrimSpace(string(g.Field)+" "+g.Value+" "+g.Axis))
			if !strings.Contains(strings.Join(strings.Fields(c.text), " "), g.Words) || !strings.HasPrefix(c.text[g.At:], strings.Fields(g.Words)[0]) {
				t.Errorf("%q: the words %q at %d are not in it", c.text, g.Words, g.At)
			}
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%q:\n%s", c.text, d)
		}
	}
}

func FuzzWishes(f *testing.F) {
	f.Add("two of these, 6 cm tall, red, by Friday")
	f.Add("½ \xff 3 in. \u0130 60×40×20mm")
	stock := Stock{Colours: []string{"red", "İ"}, Today: time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)}
	f.Fuzz(func(t *testing.T, s string) {
		for _, g := range Wishes(s, stock) {
			if g.At < 0 || g.At > len(s) || g.Value == "" || g.Words == "" {
				t.Fatalf("%+v", g)
			}
		}
	})
}

// A letter is anybody's: long lists of one kind must not take long. Sixteen times
// as many take about sixteen times as long, and by a rule that goes back over all
// that was said 256 times. Counted is the work of the processor, and the least of
// three goes, so that it is the same on a busy machine.
func TestWishesLong(t *testing.T) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	const short, long = 1 << 11, 1 << 15
	for _, unit := range []string{"red ", "in red and ", "3 ", "60 x ", "by Friday ", "de la ", "(", "\xff", "1/2 ", "no supports, ", "the lid red and ", "two, ", "ne que ", "two small and ", "a: b, "} {
		work := func(length int) time.Duration {
			text := strings.Repeat(unit, length/len(unit))
			began := worked()
			Wishes(text, wishStock)
			return worked() - began
		}
		few := min(work(short), work(short), work(short))
		many := work(long)
		for range 2 {
			if many > 64*few {
				many = min(many, work(long))
			}
		}
		t.Logf("%q: %v, and sixteen times as many %v", unit, few, many)
		if many > 64*few {
			t.Errorf("%q, many times: %.0f times as long for sixteen times as many", unit, float64(many)/float64(few))
		}
	}
}
