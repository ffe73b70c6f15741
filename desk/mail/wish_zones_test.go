package mail

import (
	"strings"
	"testing"
)

// What others wrote, and what stands under a name, is nobody's wish (CUSTOM):
// each letter asks for two and nothing else, and the words shown are the ones
// that ask.
func TestWishesQuotedAndSigned(t *testing.T) {
	for _, c := range []struct{ text, words string }{
		{"Two please.\n\n________________________________\nFrom: Larkmere Libraries <desk@larkmere.example>\nSent: 3 March 2026\nTo: Ann\nSubject: Re: print\n\nWe can do five in red, 8 cm tall, by Friday.", "Two please"},
		{"Two please.\n\nOn Tue, 3 Mar 2026 at 10:12, The desk <desk@larkmere.example>\nwrote:\n\nWe can do five copies in red, 8 cm tall, by Friday.", "Two please"},
		{"Deux svp.\n\nLe mar. 3 mars 2026 à 10:12, Le comptoir <desk@larkmere.example> a\nécrit :\n\nNous pouvons en faire cinq en rouge, 8 cm de haut, pour vendredi.", "Deux svp"},
		{"Two please.\n\n---------- Forwarded message ---------\nFrom: Ann\nDate: 3 March\nSubject: x\nTo: y\n\nWe can do five copies in red, by Friday.", "Two please"},
		{"Two please.\n\n> five in red\n> 8 cm tall\nThanks", "Two please"},
		{"> How many?\n\nTwo please.\n\n> In red?", "Two please"},
		{"Two please\n\nBest wishes\nAnn Gold\nThe Red Door Studio\n5 copies shop, open by Friday\n12 cm\n", "Two please"},
		{"Two please\n--\nAnn Gold, blue studio, 5 copies, 10 cm tall", "Two please"},
		{"Two please\n\nAnn Gold | Orange Studio | 5 pieces | t. 0555 1234\nSent from my blue phone", "Two please"},
		{"Two please\n\nTamsin Orrey\nBlack Rose Joinery, 14 Harbour Row\n5 shelves in red, from 60 cm", "Two please"},
		{"Deux svp\n\nBastien Leroux-Vert\nMenuiserie du Port, 14 rue Blanche\nÉtagères en rouge, 60 cm", "Deux svp"},
		{"Deux svp\n\nEnvoyé de mon téléphone\nCinq copies, rouge", "Deux svp"},
		{"Deux svp.\nBien à toi,\nRose Blanc\n5 copies, en noir, 10 cm", "Deux svp"},
	} {
		fresh, _ := cutQuoted(manyLines(c.text)) // as letters come in
		got := Wishes(fresh, wishStock)
		if len(got) != 1 || got[0].Field != CopiesField || got[0].Value != "2" || got[0].Words != c.words {
			t.Errorf("%q: %v", c.text, got)
		}
	}
}

// A card under a letter is somebody's; a list under a heading is not.
func TestWishesUnderAHeading(t *testing.T) {
	for _, text := range []string{
		"Here is my file.\n\nBoard Game\n3 copies\nred",
		"Here is my file.\n\n3 copies\nred\nTel. 0555 0102",
	} {
		var got []string
		for _, g := range Wishes(text, wishStock) {
			got = append(got, g.String())
		}
		if s := strings.Join(got, "; "); s != "copies 3 (“3 copies”); colour red (“red”)" {
			t.Errorf("%q: %s", text, s)
		}
	}
}
