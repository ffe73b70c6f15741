package desk

// What patrons are told when something cannot be taken, in every language the
// patrons' pages have. A new language is a further line in each.
var (
	sayMend     = sentence{"en": "Some answers need mending. They are marked below; nothing you typed or sent is lost.", "fr": "Certaines réponses sont à corriger. Elles sont signalées ci-dessous ; rien de ce que vous avez saisi ou envoyé n’est perdu."}
	sayNoForm   = sentence{"en": "This form has come apart on its way. Open the page again and send it once more.", "fr": "Ce formulaire est arrivé incomplet. Rouvrez la page et envoyez-le de nouveau."}
	sayFormUsed = sentence{"en": "This form was sent before, with another e-mail address. Open the form afresh for a new request.", "fr": "Ce formulaire a déjà été envoyé avec une autre adresse électronique. Ouvrez-en un nouveau pour une nouvelle demande."}
	sayMonth    = sentence{"en": "The library takes %d requests a month from one patron, and with this one it would be more. Ask again next month, or ask at the desk.", "fr": "La bibliothèque accepte %d demandes par mois et par personne, et celle-ci serait de trop. Revenez le mois prochain, ou adressez-vous à l’accueil."}

	sayFilesNone = sentence{"en": "Choose at least one model file: %s.", "fr": "Choisissez au moins un fichier de modèle : %s."}
	sayFilesMany = sentence{"en": "One request takes %d files at most. Take some away, or make two requests of it.", "fr": "Une demande comporte au plus %d fichiers. Retirez-en, ou faites deux demandes."}
	sayFileLost  = sentence{"en": "“%s” is not with us any more. Take it away and choose it again.", "fr": "Nous n’avons plus « %s ». Retirez-le et choisissez-le de nouveau."}
	sayFileEmpty = sentence{"en": "“%s” is empty. Take it away, save the model again and choose that.", "fr": "« %s » est vide. Retirez-le, enregistrez de nouveau le modèle et choisissez-le."}
	sayFileLarge = sentence{"en": "“%s” is larger than the %d MB a file may have. Save the model with fewer facets, or cut it into parts.", "fr": "« %s » dépasse les %d Mo permis par fichier. Enregistrez le modèle avec moins de facettes, ou divisez-le."}
	sayFileKind  = sentence{"en": "“%s” cannot be taken: a model must be %s. %s", "fr": "« %s » ne peut pas être accepté : un modèle doit être en %s. %s"}
	sayFileSame  = sentence{"en": "“%s” is with us already, to the last byte.", "fr": "Nous avons déjà « %s », à l’octet près."}
	sayAddedFile = sentence{"en": "I have added a file: %s", "fr": "J’ai ajouté un fichier : %s"}
	sayEnclosed  = sentence{"en": "Enclosed: %s", "fr": "En pièce jointe : %s"}
	sayNotAdded  = sentence{"en": "Enclosed, and not added to the request: %s. It lies in the library’s mailbox.", "fr": "En pièce jointe, mais non ajouté à la demande : %s. Cela reste dans la boîte aux lettres de la bibliothèque."}
	sayWroteIt   = sentence{"en": "From %s", "fr": "De %s"}
	sayWaysSeen  = sentence{"en": "The ways to print it, side by side", "fr": "Les façons d’imprimer, côte à côte"}
	sayOr        = sentence{"en": "or", "fr": "ou"}

	saySize       = sentence{"en": "Give a size between 1 mm and 2 m, as a number: 80 or 7.5.", "fr": "Donnez une taille entre 1 mm et 2 m, en chiffres : 80 ou 7,5."}
	sayCopies     = sentence{"en": "Give a number of copies from 1 to %d.", "fr": "Donnez un nombre d’exemplaires de 1 à %d."}
	sayNeededForm = sentence{"en": "Give the date as year-month-day, like 2027-03-31, or leave it empty.", "fr": "Donnez la date sous la forme année-mois-jour, comme 2027-03-31, ou laissez vide."}
	sayNeededPast = sentence{"en": "That date is over. Give one to come, or leave it empty.", "fr": "Cette date est passée. Donnez-en une à venir, ou laissez vide."}
	sayNeededFar  = sentence{"en": "That date is more than two years away. Give an earlier one, or leave it empty.", "fr": "Cette date est à plus de deux ans. Donnez-en une plus proche, ou laissez vide."}
	sayName       = sentence{"en": "Give your name: the print is handed over to it.", "fr": "Donnez votre nom : l’impression vous sera remise sous ce nom."}
	sayNoMail     = sentence{"en": "Give an e-mail address: that is how we reach you.", "fr": "Donnez une adresse électronique : c’est ainsi que nous vous joindrons."}
	sayMail       = sentence{"en": "This is no complete e-mail address. It should look like name@example.org.", "fr": "Cette adresse électronique n’est pas complète. Elle devrait ressembler à nom@example.org."}
	sayBranch     = sentence{"en": "Choose the branch where you want to collect the print.", "fr": "Choisissez la bibliothèque où vous viendrez chercher l’impression."}
	sayGuardian   = sentence{"en": "For someone under %d a guardian must agree: give their name.", "fr": "Pour une personne de moins de %d ans, un responsable légal doit donner son accord : indiquez son nom."}
	sayRights     = sentence{"en": "We can only print what you have the right to have made. Tick the box if you have it.", "fr": "Nous n’imprimons que ce que vous avez le droit de faire réaliser. Cochez la case si c’est le cas."}
	sayTerms      = sentence{"en": "Read the terms and tick that they are accepted.", "fr": "Lisez les conditions et cochez que vous les acceptez."}
	sayTermsNew   = sentence{"en": "The terms were changed while you had the page open. Read them as they stand now, and tick that they are accepted.", "fr": "Les conditions ont changé pendant que la page était ouverte. Lisez-les telles qu’elles sont maintenant, et cochez que vous les acceptez."}
	sayCautions   = sentence{"en": "Read what the print is not for, and tick that you have.", "fr": "Lisez à quoi l’impression ne convient pas, et cochez que vous l’avez lu."}
	sayAge        = sentence{"en": "Say whether the patron is %d or older.", "fr": "Indiquez si la personne a %d ans ou plus."}

	sayNoLink = sentence{"en": "This link leads to no request. It may be cut short, or the request may be over and forgotten, as the library does after its days. Check that the whole link is there; staff at any branch can look the request up by its code and give you the link again.", "fr": "Ce lien ne mène à aucune demande. Il est peut-être incomplet, ou la demande est terminée et oubliée, comme le fait la bibliothèque après un délai. Vérifiez que le lien est entier ; le personnel de chaque bibliothèque peut retrouver la demande par son code et vous redonner le lien."}

	sayChanged     = sentence{"en": "This request changed while you had it open. What happened is listed here; look at it, then send yours again.", "fr": "Cette demande a changé pendant que vous l’aviez ouverte. Ce qui s’est passé est indiqué ici ; regardez, puis renvoyez votre réponse."}
	sayNotOffered  = sentence{"en": "There is nothing to agree to at the moment. Open the page of your request to see where it stands.", "fr": "Il n’y a rien à accepter pour le moment. Ouvrez la page de votre demande pour voir où elle en est."}
	sayOfferOver   = sentence{"en": "The offer stood until %s and is over. Write to us on this page, and we will make a fresh one.", "fr": "L’offre était valable jusqu’au %s et a expiré. Écrivez-nous sur cette page, nous en ferons une nouvelle."}
	sayNoSuchWay   = sentence{"en": "Choose one of the ways offered.", "fr": "Choisissez l’une des façons proposées."}
	sayAgreed      = sentence{"en": "You have agreed already. If it should be another way, write to us before it is printed.", "fr": "Vous avez déjà donné votre accord. S’il faut procéder autrement, écrivez-nous avant l’impression."}
	sayTooLate     = sentence{"en": "It is being printed or done already, so it cannot be withdrawn here. Write to us, or ask at the desk.", "fr": "L’impression est en cours ou terminée ; la demande ne peut plus être annulée ici. Écrivez-nous, ou adressez-vous à l’accueil."}
	sayOver        = sentence{"en": "This request has come to its end. For another print make a new request.", "fr": "Cette demande est terminée. Pour une autre impression, faites une nouvelle demande."}
	sayNoFileNow   = sentence{"en": "A file cannot be added now, as the way to print it is agreed. Write to us first, and we will open the request again.", "fr": "On ne peut plus ajouter de fichier : la façon d’imprimer est convenue. Écrivez-nous d’abord, nous rouvrirons la demande."}
	sayNoText      = sentence{"en": "Write what you want to say or ask.", "fr": "Écrivez ce que vous voulez dire ou demander."}
	sayManyLetters = sentence{"en": "That is many messages for one day. We will answer what you wrote; for more, ask at the desk or come back tomorrow.", "fr": "Cela fait beaucoup de messages pour une journée. Nous répondrons à ce que vous avez écrit ; pour le reste, adressez-vous à l’accueil ou revenez demain."}
	sayNotYetGone  = sentence{"en": "The print is being made or waits for you, and for that we need your name. Once it is collected everything can be forgotten at once. If you do not want it any more, write to us or ask at the desk.", "fr": "L’impression est en cours ou vous attend, et pour cela nous avons besoin de votre nom. Une fois l’impression retirée, tout pourra être effacé aussitôt. Si vous n’en voulez plus, écrivez-nous ou adressez-vous à l’accueil."}
)

// otherKinds are files people send instead of a model, by ending, and what to
// do about each.
var otherKinds = []struct {
	endings []string
	say     sentence
}{
	{[]string{"step", "stp", "iges", "igs", "sldprt", "sldasm", "prt", "f3d", "f3z", "ipt", "iam", "catpart", "fcstd", "skp", "blend", "max", "ma", "mb", "c4d", "3dm", "scad", "dwg", "dxf", "x_t", "sat", "par", "lwo", "xcf", "tcw"},
		sentence{"en": "This is a drawing program’s own file: export it from there as STL or 3MF, in millimetres.", "fr": "C’est un fichier propre à un logiciel de dessin : exportez-le de là en STL ou 3MF, en millimètres."}},
	{[]string{"gcode", "gco", "g", "bgcode", "x3g", "nc", "tap"},
		sentence{"en": "These are instructions for one certain machine: send the model they were made from.", "fr": "Ce sont des instructions pour une machine précise : envoyez le modèle dont elles sont tirées."}},
	{[]string{"zip", "7z", "rar", "tar", "gz", "tgz", "xz", "bz2"},
		sentence{"en": "This is a packed folder: unpack it and choose the models in it.", "fr": "C’est un dossier compressé : décompressez-le et choisissez les modèles qu’il contient."}},
	{[]string{"jpg", "jpeg", "png", "gif", "webp", "heic", "bmp", "tif", "tiff", "svg", "pdf", "ai", "eps", "psd"},
		sentence{"en": "This is a flat picture: a print needs a model in three dimensions. Ask at the desk where to learn to make one.", "fr": "C’est une image plane : il faut un modèle en trois dimensions. Demandez à l’accueil où apprendre à en faire un."}},
	{[]string{"ply", "glb", "gltf", "dae", "fbx", "wrl", "x3d", "amf", "3ds", "usdz", "usd", "off", "vrml"},
		sentence{"en": "This is a model, but not in a form the desk reads: open it in a modelling program and export it as STL or 3MF.", "fr": "C’est bien un modèle, mais pas sous une forme que nous lisons : ouvrez-le dans un logiciel de modélisation et exportez-le en STL ou 3MF."}},
	{[]string{"doc", "docx", "odt", "txt", "rtf", "xls", "xlsx", "ppt", "pptx"},
		sentence{"en": "This is a document: write what it says into the note, and choose a model file.", "fr": "C’est un document : reportez son contenu dans la remarque, et choisissez un fichier de modèle."}},
}
