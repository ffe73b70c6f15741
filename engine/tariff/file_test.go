package tariff

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// A library's own file over the built-in one: what it names changes, the rest stays.
func TestMerge(t *testing.T) {
	c := Builtin()
	err := c.Merge([]byte(`
[tariff.larkmere]
set_up = 2
[tariff.larkmere.per_gram]
pla = "0.15"
wood = "0.25"
[tariff.school]
based_on = "larkmere"
name = "Schools"
set_up = "0"
[[tariff.school.taxes]]
name = "Sales tax"
percent = "7.5"
on = ["material"]
`), "ours.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := larkmere(t)
	want.SetUp = "2"
	want.PerGram["pla"], want.PerGram["wood"] = "0.15", "0.25"
	got, err := c.Tariff("larkmere")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	want.ID, want.Name, want.SetUp = "school", "Schools", "0"
	want.Taxes = []Tax{{"Sales tax", "7.5", []Kind{Material}}}
	if got, err = c.Tariff("school"); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(larkmere(t).PerGram["pla"], Decimal("0.10")); d != "" {
		t.Errorf("the built-in tariff changed: %s", d)
	}
}

func TestMergeRefuses(t *testing.T) {
	for _, c := range []struct{ text, say string }{
		{"[tariff.larkmere]\nset_up = 1.00", `write the number in quotes`},
		{"[tariff.larkmere.per_gram]\npla = 0.1", `per_gram.pla: write the number in quotes`},
		{"[[tariff.larkmere.taxes]]\nname = \"A\"\npercent = 5.0", `write the number in quotes`},
		{"[[tariff.larkmere.taxes]]\nname = \"A\"\npercent = \"5\"\nrate = \"5\"", `"taxes.rate" is not a setting`},
		{"[tariff.larkmere]\nsetup = \"1\"", `"setup" is not a setting of a tariff`},
		{"[printer.x]\nname = \"1\"", `"printer" is not a setting in a tariff file`},
		{"tariff = 3", `write [tariff.ID]`},
		{"[tariff]\nx = 3", `tariff.x must be a table`},
		{"[tariff.\"Big Name\"]\ncurrency = \"EUR\"", `small letters`},
		{"[tariff.new]\nname = \"New\"", `not an ISO 4217 code`},
		{"[tariff.new]\nbased_on = \"old\"", `there is no tariff "old"; there are: larkmere`},
		{"[tariff.larkmere]\nset_up = \"-1\"", `negative`},
		{"[tariff.larkmere]\nset_up = \"1\"\nset_up = \"2\"", `line 3`},
		{"[tariff.larkmere]\nset_up = true", `set_up`},
		{"[tariff.larkmere]\ntaxes = \"none\"", `taxes`},
		{"[tariff.larkmere]\ntaxes = [1, 2]", `taxes`},
		{"[tariff.larkmere]\nper_gram = \"0.10\"", `per_gram`},
		{"x = " + strings.Repeat("[", 10_000), `nested deeper`},
		{strings.Repeat("#", MaxFile+1), `too long`},
	} {
		b := Builtin()
		err := b.Merge([]byte(c.text), "ours.toml")
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%.60s: error %v; want one saying %q", c.text, err, c.say)
		}
		if d := cmp.Diff(Builtin(), b); d != "" {
			t.Errorf("%.60s: refused, yet the catalogue changed:\n%s", c.text, d)
		}
	}
}

// What is shown reads back to the same tariff.
func TestShow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tf, _, _ := draw(t)
		tf = tf.complete()
		text, err := tf.Show()
		if err != nil {
			t.Fatal(err)
		}
		c := &Catalogue{}
		if err := c.Merge(text, "shown"); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		got, err := c.Tariff(tf.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(tf.Taxes) == 0 {
			tf.Taxes = got.Taxes // none, either way
		}
		for i := range tf.Taxes {
			if len(tf.Taxes[i].On) == 0 {
				tf.Taxes[i].On = got.Taxes[i].On
			}
		}
		if d := cmp.Diff(tf, got); d != "" {
			t.Fatal(d)
		}
	})
	text, err := Builtin().Show()
	if err != nil {
		t.Fatal(err)
	}
	c := &Catalogue{}
	if err := c.Merge(text, "shown"); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if d := cmp.Diff(Builtin(), c); d != "" {
		t.Error(d)
	}
}

// Whatever is read is either refused in words or a tariff that prices.
func FuzzMerge(f *testing.F) {
	f.Add(builtin)
	f.Add([]byte("[tariff.a]\ncurrency = \"KWD\"\nper_gram_other = 3\ntaxes = [{name = \"A\", percent = \"5\", on = [\"time\"]}]\n"))
	f.Add([]byte("[tariff.a]\nbased_on = \"larkmere\"\nmoney_rounding = \"half-even\"\n[[tariff.a.taxes]]\nname = \"x\"\npercent = 5\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c := Builtin()
		if err := c.Merge(text, "fuzz"); err != nil {
			return
		}
		for _, tf := range c.Tariffs {
			if _, err := tf.Price(Order{Items: []Item{{Material: "pla", Grams: 12.34}}, Prints: 2, Copies: 3, Seconds: 4000}); err != nil && !strings.Contains(err.Error(), "no rate for") {
				t.Errorf("%s was read and cannot price: %v", tf.ID, err)
			}
			if _, err := tf.Show(); err != nil {
				t.Errorf("%s was read and cannot be shown: %v", tf.ID, err)
			}
		}
	})
}
