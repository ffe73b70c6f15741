package mail

import (
	"strings"
	"testing"
	"time"
)

// Rules of grammar, each with letters by two hands or in two languages (CUSTOM;
// written without sight of the held-out parts of the corpus).
func TestWishesGrammar(t *testing.T) {
	for _, rule := range []struct {
		name    string
		letters [][2]string
	}{
		{"a clause without a verb counts", [][2]string{
			{"One large, two small, all orange.", "copies 1;copies 2;colour orange"},
			{"Un seul pour l'instant, on verra ensuite.", "copies 1"},
			{"My order: three large urns in gold and ten small ones in white.", "copies 3;colour gold;copies 10;colour white"},
			{"My son, 15, wants to know how thick it is.", ""},
		}},
		{"a sum counts", [][2]string{
			{"Half of them red, half of them white, 20 altogether.", "colour red;colour white;copies 20"},
			{"Il faut compter deux par enfant, ils sont douze, donc vingt-quatre.", "copies 24"},
		}},
		{"what stands behind 'en' counts", [][2]string{
			{"J'en prendrai quatre, merci de les faire en PETG.", "copies 4;material petg"},
			{"PS : mettez-en deux, au cas où.", "copies 2"},
			{"Je n'en veux qu'un.", "copies 1"},
		}},
		{"what a number becomes counts", [][2]string{
			{"Could you change it from three to four?", "copies 4"},
			{"Pourriez-vous passer de trois à quatre ?", "copies 4"},
		}},
		{"'ne ... que' denies nothing, 'ne ... plus' does", [][2]string{
			{"Je ne voudrais que deux exemplaires.", "copies 2"},
			{"Je n'ai plus besoin des quatre crochets.", ""},
		}},
		{"'plutôt X que Y' denies Y", [][2]string{
			{"Plutôt du PETG que du PLA.", "material petg"},
			{"Finalement en TPU plutôt qu'en PLA.", "material tpu"},
		}},
		{"a colour on, with or before another", [][2]string{
			{"I'd like it done in blue on white.", "colour blue;colour white"},
			{"Rouge à pois blancs, s'il vous plaît.", "colour red;colour white"},
			{"Brown or white, please.", "colour white"},
		}},
		{"an adverb behind a colour is no noun", [][2]string{
			{"Gold obviously!", "colour gold"},
			{"En or évidemment !", "colour gold"},
		}},
		{"measures that are joined", [][2]string{
			{"It's to replace a foot, 22 mm in diameter and 8 mm high, black if possible.", "size 22;size 8 tall;colour black"},
			{"an inch and a half tall, please", "size 38.1 tall"},
			{"Une dizaine de centimètres ?", "size 100"},
		}},
		{"the side before a verb", [][2]string{
			{"I'd like the height reduced to 45 mm.", "size 45 tall"},
			{"La hauteur devrait être de 9 cm environ.", "size 90 tall"},
			{"Min height 3 mm", ""},
		}},
		{"what is so now is not what is wished", [][2]string{
			{"It's 3 in wide now and I'd like it 4 in.", "size 101.6"},
			{"Il fait 6 cm actuellement, je le veux à 9 cm.", "size 90"},
		}},
		{"shares in words, and beside 'bigger'", [][2]string{
			{"Shrink by a fifth please.", "scale 0.8"},
			{"J'aimerais la plaque agrandie d'un quart.", "scale 1.25"},
			{"A tad bigger, say 10%, please.", "scale 1.1"},
			{"Can we have it at 3/4 size?", "scale 0.75"},
		}},
		{"feasts, and days told by another", [][2]string{
			{"Can it be finished before Easter?", "needed 2026-04-05"},
			{"Avant la Pentecôte au plus tard.", "needed 2026-05-24"},
			{"Happy Easter! The Easter bunny sent me.", ""},
			{"He's back on the 11th so ideally by then.", "needed 2026-03-11"},
			{"Mon père rentre le 11, idéalement ce serait prêt avant.", "needed 2026-03-11"},
			{"Would you be able to have them ready by Wednesday week?", "needed 2026-03-18"},
			{"Ce serait pour mardi en huit.", "needed 2026-03-17"},
			{"We meet on the second Tuesday of the month.", ""},
		}},
		{"occasions", [][2]string{
			{"They're place-card holders for a dinner on the 28th.", "needed 2026-03-28"},
			{"Could I get this done for my mum's birthday (22nd March)?", "needed 2026-03-22"},
			{"I paid for two on Friday.", ""},
		}},
		{"'yes to' and 'ok' behind supports", [][2]string{
			{"Yes to supports, I have pliers.", "supports breakaway"},
			{"Oui pour les supports.", "supports breakaway"},
			{"Tree supports ok.", "supports breakaway"},
		}},
		{"what is short behind an apostrophe is a word", [][2]string{
			{"PLA's fine.", "material pla"},
			{"Two's enough.", "copies 2"},
			{"If you could do it for the 18th that'd be brilliant.", "needed 2026-03-18"},
		}},
		{"tells of things, asks for nothing", [][2]string{
			{"Do you print in colour? I have seen 3 red ones at the museum.", ""},
			{"It has six legs, two wings and a yellow belly in the drawing.", ""},
			{"Can you tell me the price per copy above 10 copies?", ""},
			{"Our meeting on 20 March is at the Harbour branch, will you come?", ""},
			{"I need to know by Monday whether you can.", ""},
			{"She has one of those huge phones.", ""},
			{"We got three of these from you in January and two have snapped.", ""},
			{"The battery cover is 4 cm by 2 and the old one was white.", ""},
			{"Il y avait deux pièces dans la boîte au lieu de trois.", ""},
			{"Votre devis parle de 10 exemplaires à 2 euros, est-ce avec la peinture ?", ""},
			{"J'ai deux modèles, un grand et un petit, lequel s'imprime le mieux ?", ""},
		}},
	} {
		for _, l := range rule.letters {
			if got := wishesIn(l[0]); got != l[1] {
				t.Errorf("%s: %q:\n got %s\nwant %s", rule.name, l[0], got, l[1])
			}
		}
	}
}

func wishesIn(text string) string {
	var got []string
	for _, g := range Wishes(text, wishStock) {
		got = append(got, strings.TrimSpace(string(g.Field)+" "+g.Value+" "+g.Axis))
	}
	return strings.Join(got, ";")
}

// Easter Sundays as almanacs print them (from memory): the earliest and the
// latest there are, and some between.
func TestEaster(t *testing.T) {
	for _, want := range []string{"1818-03-22", "1943-04-25", "2000-04-23", "2024-03-31", "2025-04-20", "2026-04-05", "2027-03-28", "2038-04-25"} {
		day, err := time.Parse("2006-01-02", want)
		if err != nil {
			t.Fatal(err)
		}
		if got := easter(day.Year()).Format("2006-01-02"); got != want {
			t.Errorf("Easter of %d: %s, want %s", day.Year(), got, want)
		}
	}
}
