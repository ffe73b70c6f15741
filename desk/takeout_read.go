package desk

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// What the part of a copy says that is made to be read by a person.
var (
	readName     = sentence{"en": "read-me.txt", "fr": "lisez-moi.txt"}
	readTitle    = sentence{"en": "Request %s\n\nThis is what %s holds of it, as at %s.", "fr": "Demande %s\n\nVoici ce que %s en détient, au %s."}
	readHere     = sentence{"en": "In this copy", "fr": "Dans cette copie"}
	readAll      = sentence{"en": "request.json: everything, to the last detail, with what happened and when", "fr": "request.json : tout, jusqu’au dernier détail, avec ce qui s’est passé et quand"}
	readPictures = sentence{"en": "pictures: what was drawn of them", "fr": "pictures : ce qui en a été dessiné"}
	readYou      = sentence{"en": "You", "fr": "Vous"}
	readWish     = sentence{"en": "What you asked for", "fr": "Ce que vous avez demandé"}
	readAgreed   = sentence{"en": "What you agreed to", "fr": "Ce que vous avez accepté"}
	readMessages = sentence{"en": "Messages", "fr": "Messages"}
	readPatron   = sentence{"en": "Name", "fr": "Nom"}
	readMail     = sentence{"en": "E-mail", "fr": "Adresse électronique"}
	readPhone    = sentence{"en": "Telephone", "fr": "Téléphone"}
	readCard     = sentence{"en": "Library card number", "fr": "Numéro de carte de bibliothèque"}
	readGuardian = sentence{"en": "Guardian", "fr": "Responsable légal"}
	readBranch   = sentence{"en": "Branch", "fr": "Bibliothèque"}
	readCopies   = sentence{"en": "Copies", "fr": "Exemplaires"}
	readColour   = sentence{"en": "Colour", "fr": "Couleur"}
	readLength   = sentence{"en": "Longest side", "fr": "Plus grand côté"}
	readNeeded   = sentence{"en": "Needed by", "fr": "Pour le"}
	readPurpose  = sentence{"en": "What it is for", "fr": "À quoi cela servira"}
	readNote     = sentence{"en": "Anything else", "fr": "Autre chose"}
	readWay      = sentence{"en": "Way", "fr": "Façon"}
	readOn       = sentence{"en": "Agreed on", "fr": "Accepté le"}
	readColon    = sentence{"en": "%s: %s", "fr": "%s : %s"}
)

// reading is the copy in short, as plain text in the patron's language. What it
// leaves out is in request.json.
func (h held) reading(now time.Time) (name, text string) {
	set := h.settings
	lang, zone := h.Contact.Language, set.Library.Zone()
	when := func(t time.Time) string { t = t.In(zone); return DayInWords(t, lang) + ", " + t.Format("15:04") }
	var b strings.Builder
	head := func(s sentence) { fmt.Fprintf(&b, "\n\n%s\n\n", s.in(lang)) }
	line := func(what sentence, said string) {
		if said != "" {
			fmt.Fprintf(&b, "  %s\n", readColon.in(lang, what.in(lang), indented(said)))
		}
	}
	b.WriteString(readTitle.in(lang, h.Code, set.Library.Name, when(now)))

	head(readHere)
	fmt.Fprintf(&b, "  %s\n", readAll.in(lang))
	for _, f := range h.Files {
		fmt.Fprintf(&b, "  %s\n", f.In)
	}
	for _, l := range h.Letters {
		for _, f := range l.Files {
			fmt.Fprintf(&b, "  %s\n", f.In)
		}
	}
	if h.pictures > 0 {
		fmt.Fprintf(&b, "  %s\n", readPictures.in(lang))
	}

	head(readYou)
	line(readPatron, h.Contact.Name)
	line(readMail, h.Contact.Email)
	line(readPhone, h.Contact.Phone)
	line(readCard, h.Contact.Card)
	line(readGuardian, h.Contact.Guardian)

	head(readWish)
	line(readBranch, h.Branch)
	if h.Wish.SizeMM > 0 {
		line(readLength, millimetres(h.Wish.SizeMM)+" mm")
	}
	line(readCopies, strconv.Itoa(max(h.Wish.Copies, 1)))
	line(readColour, h.Wish.Colour)
	line(readNeeded, h.Wish.Needed)
	line(readPurpose, h.Wish.Purpose)
	line(readNote, h.Wish.Note)

	if a := h.Agreement; a != nil {
		head(readAgreed)
		line(readWay, WayName(a.Way.ID, lang)+", "+a.Way.Price.Format(a.Way.Price.Total, moneyLocale(set.Library.Locale, lang)))
		line(readOn, when(a.At))
		line(readGuardian, a.Guardian)
	}

	if len(h.Messages) > 0 {
		head(readMessages)
		for i, m := range h.Messages {
			if i > 0 {
				b.WriteString("\n")
			}
			from := m.From
			if from == "" {
				from = h.Contact.Name
			}
			fmt.Fprintf(&b, "  %s, %s\n", when(m.At), from)
			for _, text := range []string{m.Subject, m.Text} {
				if text != "" {
					fmt.Fprintf(&b, "  %s\n", indented(text))
				}
			}
		}
	}
	return readName.in(lang), b.String()
}

// indented sets the further lines of a text in, as the first one is.
func indented(text string) string {
	return strings.ReplaceAll(strings.ReplaceAll(strings.TrimSpace(text), "\r\n", "\n"), "\n", "\n  ")
}
