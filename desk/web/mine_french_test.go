package web

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// What the engine says stands on a French page in French; what was kept before
// its sentences were kept as data stands there in English, and is marked so that
// it is read aloud as English.
func TestEnginesWordsOnAFrenchPage(t *testing.T) {
	m := aRequest(desk.WithPatron)
	site := &Site{desk: &desk.Desk{Secret: []byte("a secret of tests")}}
	page := func(m desk.MyRequest) string {
		text, err := minePage.render("main", site.mineView(m, "thekey", &french))
		if err != nil {
			t.Fatal(err)
		}
		agree, err := agreePage.render("main", agreePageOf(m, "/my/thekey", "sensible", nil, &french))
		if err != nil {
			t.Fatal(err)
		}
		return string(text) + string(agree)
	}
	old := page(m)
	if n := strings.Count(old, `lang="en"`); n < 8 || !strings.Contains(old, `lang="en">The library&#39;s usual way.`) {
		t.Errorf("%d sentences are marked as English", n)
	}

	price, err := m.Settings.Tariff.Price(tariff.Order{Items: []tariff.Item{{Material: "pla", Name: "PLA", Grams: 23.4}}, Prints: 1, Copies: 1})
	if err != nil {
		t.Fatal(err)
	}
	for i := range m.Request.Quote.Ways {
		w := &m.Request.Quote.Ways[i]
		w.Saying, w.Price, w.PriceSayings = say.Of("The library's usual way."), price, m.Settings.Tariff.Sayings()
		w.Says, w.PriceSaid = w.Saying.String(), say.Strings(w.PriceSayings)
	}
	wall := say.Of("Print it larger (about %s %%), or choose a smaller nozzle or a narrower bead.", say.Digits("150"))
	m.Files[0].Result.Answer.Findings = []findings.Finding{{ID: "thin-walls", Severity: findings.Ask, Message: wall.String(), Saying: wall, Places: m.Files[0].Result.Answer.Findings[0].Places}}
	now := page(m)
	if strings.Contains(now, `lang="en"`) {
		t.Error("something is still marked as English")
	}
	text := textOfHTML(t, now)
	for _, want := range []string{"La façon habituelle de la bibliothèque.", "grammes de chaque matière arrondis", "24\u00a0g de PLA à 0,10", "Préparation", "Compris\u00a0: VAT 20\u00a0% sur 3,",
		"L’imprimer plus grande (environ 150\u00a0%), ou choisir une buse plus petite"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, not := range []string{"usual way", "rounded", "Set-up", "Included", "Print it larger", "Softens", "Not food-safe"} {
		if strings.Contains(text, not) {
			t.Errorf("the page says %q", not)
		}
	}
	if !strings.Contains(now, "Parois minces") {
		t.Error("the 3D view has no label in French")
	}
	if !strings.Contains(text, "Ramollit à partir d’environ 55\u00a0°C") {
		t.Error("the caution of the material is not said before agreeing")
	}
}

// How something was paid, and which way was chosen, are said as French writes
// them: in its words, with a space before the colon (Imprimerie nationale, Lexique
// des règles typographiques; from memory).
func TestPaidAndChosenInFrench(t *testing.T) {
	m := aRequest(desk.WithPatron)
	m.Account = []desk.Charge{{Kind: desk.Payment, Amount: "-3.40", Currency: "GBP", Reason: "cash"}, {Kind: desk.Repayment, Amount: "1.00", Currency: "GBP", Reason: "card"},
		{Kind: desk.Correction, Amount: "1.00", Currency: "GBP", Reason: "cash"}}
	for _, c := range []struct {
		w      *words
		names  []string
		chosen string
	}{
		{&english, []string{"Paid: cash", "Given back: card", "Correction: cash"}, "What you chose: As we would print it"},
		{&french, []string{"Payé\u00a0: en espèces", "Rendu\u00a0: par carte", "Correction\u00a0: cash"}, "Ce que vous avez choisi\u00a0: Notre façon habituelle"},
	} {
		facts := accountFacts(m, c.w)
		for i, want := range c.names {
			if facts[i].Name != want {
				t.Errorf("%s: %q, want %q", c.w.Lang, facts[i].Name, want)
			}
		}
		if v := agreePageOf(m, "/my/thekey", "sensible", nil, c.w); v.Chosen != c.chosen {
			t.Errorf("%s: %q, want %q", c.w.Lang, v.Chosen, c.chosen)
		}
	}
	offered := map[string]bool{}
	for _, how := range waysToPay {
		offered[how.Value] = true
		if french.Paid[how.Value] == "" || english.Paid[how.Value] == "" {
			t.Errorf("no words for a payment by %s", how.Value)
		}
	}
	for how := range french.Paid {
		if !offered[how] {
			t.Errorf("nobody pays by %s", how)
		}
	}
}

// textOfHTML is what a page says, without its marks.
func textOfHTML(t *testing.T, page string) string {
	t.Helper()
	n, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return b.String()
}
