package web

// faultsInFrench are sentences the desk has in English only, which a patron may
// meet: of its disk, of limits, of forms from elsewhere. A test holds the English
// to what is said.
var faultsInFrench = map[string]string{
	"There is no room left where the desk keeps its data, so nothing of this was kept. Nothing that was kept before is lost. Make room on the disk, then send it again.":            "Il n’y a plus de place là où l’atelier garde ses données, rien de ceci n’a donc été gardé. Rien de ce qui était gardé n’est perdu. Dites-le à la bibliothèque, puis renvoyez.",
	"The desk's database is in use by something else and could not be written in time, so nothing of this was kept. Wait a minute, then send it again.":                             "La base de données de l’atelier était occupée et n’a pas pu être écrite à temps, rien de ceci n’a donc été gardé. Attendez une minute, puis renvoyez.",
	"The disk with the desk's data could not be read or written, so nothing of this was kept. Whoever looks after the machine should see to the disk before anything else is done.": "Le disque de l’atelier n’a pas pu être lu ou écrit, rien de ceci n’a donc été gardé. La personne qui s’occupe de la machine doit d’abord voir le disque : dites-le à la bibliothèque.",
	"The desk cannot reach its database just now. What was sent may not have been kept: look whether it is there, then send it again.":                                              "L’atelier n’atteint pas sa base de données pour l’instant. Ce qui a été envoyé n’a peut-être pas été gardé : regardez s’il y est, sinon renvoyez.",
	"This form has more fields than any of ours. Open the page again and send it once more.":                                                                                        "Ce formulaire a plus de champs qu’aucun des nôtres. Rouvrez la page et envoyez-le de nouveau.",
	"Too many pages were asked for from your network at once. Wait a minute, then go on where you were.":                                                                            "Trop de pages ont été demandées à la fois depuis votre réseau. Attendez une minute, puis reprenez où vous en étiez.",
	"This form was sent from another site, so nothing was done. Open the page here and send it again.":                                                                              "Ce formulaire a été envoyé depuis un autre site, rien n’a donc été fait. Ouvrez la page ici et renvoyez-le.",
	"There are so many requests that no code is free. Tell the library: old ones must be forgotten first.":                                                                          "Il y a tant de demandes qu’aucun code n’est libre. Dites-le à la bibliothèque : d’anciennes demandes doivent d’abord être effacées.",
	"There is no such page. The link may be cut short or out of date: check it, or begin at the front page.":                                                                        "Cette page n’existe pas. Le lien est peut-être incomplet ou trop ancien : vérifiez-le, ou partez de la page d’accueil.",
	"We could not find out whether you are logged in. Try again in a minute.":                                                                                                       "Nous n’avons pas pu voir si vous êtes connecté. Réessayez dans une minute.",
}

// said is a sentence of a fault in the page's language, if there is one.
func (w *words) said(sentence string) string {
	if w.Lang == french.Lang {
		return or(faultsInFrench[sentence], sentence)
	}
	return sentence
}
