package mail

import (
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

// What was misread or not read once, and other ways to say the same (CUSTOM).
func TestWishesFrames(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"Could you print three of the attached in black PETG, 15cm tall?", "copies 3;colour black;material petg;size 150 tall"},
		{"I'd like it in either white or grey.", "colour white;colour grey"},
		{"Any chance of getting this by Thursday?", "needed 2026-03-05"},
		{"We need it for the school fair on Saturday 21 March.", "needed 2026-03-21"},
		{"It must be 80 mm high and 40 mm wide.", "size 80 tall;size 40 wide"},
		{"Please make it 10cm x 5cm x 2cm", "size 100"},
		{"Can you print it at 150%?", "scale 1.5"},
		{"Print at 150 percent please.", "scale 1.5"},
		{"Could I get 2 sets, in blue and red?", "copies 2;colour blue;colour red"},
		{"I'd like to order ten of them.", "copies 10"},
		{"Please print 25 for my class of 24 pupils", "copies 25"},
		{"I only need one.", "copies 1"},
		{"Make two.", "copies 2"},
		{"Three, please.", "copies 3"},
		{"Three copies in green, two in yellow.", "copies 3;colour green;copies 2;colour yellow"},
		{"Quantity: 2\nColour: white\nSize: 5 cm", "copies 2;colour white;size 50"},
		{"white if possible", "colour white"},
		{"Please, not in white.", ""},
		{"In a colour other than red.", ""},
		{"Neither red nor blue please.", ""},
		{"Any colour as long as it isn't pink", ""},
		{"In black rather than white.", "colour black"},
		{"Black instead of the white I asked for before", "colour black"},
		{"I changed my mind: blue, not green.", "colour blue"},
		{"The last one was red, this time in yellow please.", "colour yellow"},
		{"My favourite colour is purple.", "colour purple"},
		{"Green filament please.", "colour green"},
		{"PLA, please, in orange.", "material pla;colour orange"},
		{"It needs to be PETG because it will be outside.", "material petg"},
		{"Would PETG be better than PLA for outdoors?", ""},
		{"With supports please", "supports breakaway"},
		{"It needs supports under the arms.", "supports breakaway"},
		{"I don't think it needs supports.", "supports none"},
		{"Print it without support.", "supports none"},
		{"You can leave out the supports.", "supports none"},
		{"Infill at 30%", "infill 30"},
		{"30 percent infill please", "infill 30"},
		{"with 50% fill", "infill 50"},
		{"Needed by March 10th", "needed 2026-03-10"},
		{"before 12/03/2026", ""},
		{"Please by 25/03", "needed 2026-03-25"},
		{"By the end of the month would be great.", "needed 2026-03-31"},
		{"Within 10 days", "needed 2026-03-14"},
		{"I need it in two weeks.", "needed 2026-03-18"},
		{"I'm away until 14 March.", ""},
		{"It is not needed before 20 March.", ""},
		{"Can I come on Friday to talk?", ""},
		{"Are you open on Friday?", ""},
		{"We open again on Monday at the museum, by the way.", ""},
		{"I pick it up at Harbour on Friday.", "branch b2"},
		{"I'd like to collect it at the Northfield library.", "branch b3"},
		{"Northfield is closest for me.", "branch b3"},
		{"Send it to Harbour please.", "branch b2"},
		{"Double size, please.", "scale 2"},
		{"Print it at half scale.", "scale 0.5"},
		{"Scale it up by 50%", "scale 1.5"},
		{"50% smaller please", "scale 0.5"},
		{"200% of the original size", "scale 2"},
		{"As big as you can, please.", "largest yes"},
		{"The biggest size that fits on your printer", "largest yes"},
		{"60mm please, not 50.", "size 60"},
		{"5 inches high", "size 127 tall"},
		{"8cm high, 4cm wide at the base", "size 80 tall;size 40 wide"},
		{"Overall height 12 cm", "size 120 tall"},
		{"It should fit on a 25 mm pole, for a shed.", ""},
		{"The hole diameter is 8 mm and the walls are 3 mm thick.", ""},
		{"It is for a bolt of 6 mm.", ""},
		{"It is for a 20 mm rod.", ""},
		{"Here is a knob 4mm thick, 10 mm in diameter", ""},
		{"It should be 40 mm in diameter.", "size 40"},
		{"Could you print a 10 cm vase in white?", "size 100;colour white"},
		{"Could you print me a red box?", "colour red"},
		{"I'd like two small green frogs.", "copies 2;colour green"},
		{"I have a red PLA printer at home.", ""},
		{"One of these broke last week.", ""},
		{"I tried to print two of these at home in PLA.", ""},
		{"We printed four copies in blue last year.", ""},
		{"My card 2 x 14 does not work.", ""},
		{"I live at 12 Green Street.", ""},
		{"My mother Rose drew it.", ""},
		{"Mrs Black told me about you.", ""},
		{"I hope the file is clear.", ""},
		{"It is a black hole model for the physics club.", ""},
		{"You open on Monday?", ""},
		{"No later than Friday please.", "needed 2026-03-06"},
		{"I'd rather have it in blue than in red.", "colour blue"},
		{"Hi, 2 x please", "copies 2"},
		{"The model has 3 parts. Print all of them in white.", "colour white"},
		{"Please call 0555 010 20 to say when.", ""},
		{"It takes 4 AA batteries.", ""},
		{"I would like the text in white and the rest in black.", "colour white;colour black"},
		{"Is it OK if I pay in 2 weeks?", ""},
		{"Can you make the hole 2 mm wider?", ""},
		{"Please add 0.5 mm of clearance and leave the rest.", ""},
		{"The shelf is 60 cm wide and my desk 40 mm deep.", ""},
		{"It slides between two boards 18 mm apart.", ""},
		{"Je voudrais deux exemplaires de cette pièce en noir.", "copies 2;colour black"},
		{"En PLA noir, merci.", "material pla;colour black"},
		{"Je voudrais une boîte de 10 cm de long.", "size 100"},
		{"Le trou doit faire 5 mm.", ""},
		{"Il me faudrait ça pour le 15 mars.", "needed 2026-03-15"},
		{"Avant la fin du mois si possible.", "needed 2026-03-31"},
		{"Pour jeudi au plus tard.", "needed 2026-03-05"},
		{"Il me le faut dans deux semaines.", "needed 2026-03-18"},
		{"Ni rouge ni noir.", ""},
		{"Peu importe la couleur, sauf le rose.", ""},
		{"Noir de préférence.", "colour black"},
		{"Je voudrais 3 exemplaires, en blanc.", "copies 3;colour white"},
		{"Quantité : 2", "copies 2"},
		{"4 pièces svp", "copies 4"},
		{"Pourriez-vous m'en faire quatre ?", "copies 4"},
		{"Échelle 50 %", "scale 0.5"},
		{"À imprimer à 150 %.", "scale 1.5"},
		{"Agrandir de 20 %", "scale 1.2"},
		{"20 % plus grand", "scale 1.2"},
		{"Remplissage à 30 %", "infill 30"},
		{"Avec supports", "supports breakaway"},
		{"Je n'ai pas besoin de supports.", "supports none"},
		{"Imprimez-la sans support.", "supports none"},
		{"Un support de téléphone, svp, en vert.", "colour green"},
		{"Des supports hydrosolubles si possible.", "supports soluble"},
		{"Retrait à Harbour.", "branch b2"},
		{"Je viendrai la chercher à Mill Street.", "branch b1"},
		{"Vous êtes ouverts mardi ?", ""},
		{"Je passe le samedi.", ""},
		{"Je passerai lundi pour en parler.", ""},
		{"J'ai imprimé deux de ces pièces en PLA l'an dernier.", ""},
		{"Mme Blanc m'a parlé de vous.", ""},
		{"J'habite 4, rue Noire.", ""},
		{"Deux crochets rouges, s'il vous plaît.", "copies 2;colour red"},
		{"Il me faut six crochets de 8 cm.", "copies 6;size 80"},
		{"Mardi 1er décembre au plus tard", "needed 2026-12-01"},
		{"C'est pour mardi 1er décembre.", "needed 2026-12-01"},
		{"Agrandir à 200 %", "scale 2"},
		{"L'agrandir à 200 % serait bien.", "scale 2"},
		{"J'en voudrais trois, en blanc", "copies 3;colour white"},
		{"Pouvez-vous l'imprimer en 10 cm de haut ?", "size 100 tall"},
		{"Il est pour une tige de 20 mm, en noir s'il vous plaît.", "colour black"},
		{"L'ancienne pièce mesurait 6 cm.", ""},
		{"Je la voudrais rouge.", "colour red"},
		{"Une figurine verte de 5 cm, svp.", "colour green;size 50"},
		{"Ma fille aura six ans le 12 mars, c'est pour son anniversaire.", "needed 2026-03-12"},
	} {
		var got []string
		for _, g := range Wishes(c.text, wishStock) {
			got = append(got, strings.TrimSpace(string(g.Field)+" "+g.Value+" "+g.Axis))
		}
		if s := strings.Join(got, ";"); s != c.want {
			t.Errorf("%q:\n got %s\nwant %s", c.text, s, c.want)
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
