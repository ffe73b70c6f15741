package demo

import (
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// library is the service itself. address is where it is reached.
func library(address string) desk.Library {
	return desk.Library{Name: "Larkmere Libraries", Locale: "en-GB", TimeZone: "Europe/London", Languages: []string{"en", "fr"},
		Contact: "Larkmere Libraries, Weirside: printing@larkmere.example, 01632 960 118", Address: address}
}

func rules() desk.Rules {
	r := desk.DefaultRules()
	r.MaxFile, r.MaxFiles, r.MaxCopies = 60_000_000, 6, 24
	r.Longest = quote.Length{Duration: 8 * time.Hour}
	r.PerMonth, r.QuoteDays, r.PickupDays, r.RemindDays = 3, 14, 14, 3
	r.Attempts, r.PatronPays = 2, []desk.Blame{desk.DesignBlame}
	r.Age, r.KeepDays, r.FinalPrice, r.Reserve = 16, 30, desk.TheLower, 25
	return r
}

// tariffs are last season's and the one in force.
func tariffs() (was, is tariff.Tariff) {
	is, err := quote.Builtin().Tariff("larkmere")
	if err != nil {
		panic(err) // built in, and tested
	}
	was = is
	was.SetUp = "0.50"
	return was, is
}

// terms are the agreement text, first version and second.
func terms() (first, second desk.Terms) {
	first = desk.Terms{Text: map[string]string{"en": text(english[:3]), "fr": text(french[:3])}}
	second = desk.Terms{Text: map[string]string{"en": text(english), "fr": text(french)}}
	return first, second
}

func text(paragraphs []string) string { return strings.Join(paragraphs, "\n\n") }

var english = []string{
	"Larkmere Libraries print your model for you as well as our printers can. We look at every file before it is printed, and we may decline one; we then tell you why, and you may ask the service manager to look at it again.",
	"You declare that you may have this thing made: that it is your own, or that whoever made it allows it. You keep your rights in it. We use the file for this print only.",
	"A print is not an industrial product. Layers show, supports leave marks, and sizes are true to about half a millimetre. It is not for food, for load, for heat, for medical or electrical use, nor for small children.",
	"You pay for the material of the finished print by the tariff in force today, and never more than the price you agree to here. Should a print fail, we try once more at our cost; if the model itself cannot be printed as sent, we may charge the material used.",
	"We keep the print for fourteen days at the branch you chose. After that it may be given away or recycled. Thirty days after the end we delete your name, your address, your messages and your files, and keep only counts.",
}

var french = []string{
	"Les bibliothèques de Larkmere impriment votre modèle aussi bien que nos imprimantes le permettent. Nous examinons chaque fichier avant l'impression et pouvons en refuser un ; nous vous disons alors pourquoi, et vous pouvez demander à la responsable du service de le revoir.",
	"Vous déclarez avoir le droit de faire fabriquer cet objet : il est de vous, ou son auteur le permet. Vous gardez vos droits. Nous n'utilisons le fichier que pour cette impression.",
	"Une impression n'est pas un produit industriel. Les couches se voient, les supports laissent des traces, et les cotes sont justes à un demi-millimètre près. Elle ne convient ni aux aliments, ni aux charges, ni à la chaleur, ni à un usage médical ou électrique, ni aux petits enfants.",
	"Vous payez la matière de l'objet fini au tarif en vigueur aujourd'hui, jamais plus que le prix accepté ici. Si une impression échoue, nous recommençons une fois à nos frais ; si c'est le modèle qui ne peut être imprimé tel quel, la matière utilisée peut vous être comptée.",
	"Nous gardons l'objet quatorze jours dans la bibliothèque choisie. Ensuite il peut être donné ou recyclé. Trente jours après la fin, nous effaçons votre nom, votre adresse, vos messages et vos fichiers, et ne gardons que des chiffres.",
}

// texts are the program's own, but for one that Larkmere writes in its own words.
func texts() desk.Texts {
	all := desk.DefaultTexts()
	ready := all["en"][desk.TextReady]
	ready.Body = strings.Replace(ready.Body, "\n{{.Library}}", "\nPlease bring a bag: we have none to give away.\n\n{{.Library}}", 1)
	all["en"][desk.TextReady] = ready
	return all
}
