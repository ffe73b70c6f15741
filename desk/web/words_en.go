package web

import (
	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/tariff"
)

// frameWords stand around a page, and in parts of all pages.
type frameWords struct {
	Skip, Service, Staff, Licences                                    string
	Optional, ErrorMark                                               string
	OneWrong, ManyWrong                                               string // of a count
	Cancel                                                            string
	FaultTitles                                                       map[desk.Kind]string
	Sending, SendingBar, SentAll, BrokeOff                            string
	FormBroken, FormApart, FormLarge, FormFailed, ManyAsks, ManyBytes string
	Meanwhile                                                         string
	NumberForLibrary, FrontPage                                       string
	View                                                              map[string]string // of the 3D view
}

// welcomeWords are those of the front page.
type welcomeWords struct {
	WelcomeTitle, WelcomeLead, AskButton           string
	HowTitle                                       string
	How                                            []string
	CostTitle, CostExact                           string
	CostSetUp                                      map[tariff.Per]string // of an amount
	CostGram, CostGramOther, CostGramAny, CostHour string                // of material and amount; of an amount
	CostFree, CostLeast, CostTax, CostTaxOn        string                // of an amount; of name and percent
	CanTitle                                       string
	CanFiles, CanFilesSay                          string // of endings and size
	CanLongest, CanLongestSay                      string // of a time
	CanMonth, CanMonthSay                          string // of a number
	CanKeep, CanKeepSay                            string // of a number of days
	CanAge, CanAgeSay                              string // of an age
	BranchesTitle, ClosedToday, ClosedTodayWhy     string
	OpenFromTo, OpenNow                            string
	FindTitle, FindSay                             string
	NoBranches                                     string
	InLanguage                                     string // link to the same page in this language
}

// askWords are those of the form for asking.
type askWords struct {
	AskTitle, AskLead                                                  string
	ModelTitle, FilesLabel, FilesHint                                  string // of endings, size, number
	HereAlready, LeaveOut, KeptHint                                    string
	WishTitle, SizeLabel, SizeAsIs, SizeAsIsHint                       string
	SizeLength, SizeLargest, SizeLargestHint                           string
	LengthLabel, LengthHint, UnitLabel                                 string
	Millimetres, Centimetres, Inches                                   string
	ColourLabel, AnyColour, CopiesLabel, NeededLabel                   string
	NeededHint, PurposeLabel, PurposeHint                              string
	NoteLabel, NoteHint                                                string
	YouTitle, NameLabel, NameHint, EmailLabel, EmailHint, EmailHintOff string
	PhoneLabel, CardLabel, LanguageLabel, BranchLabel                  string
	ChooseBranch                                                       string
	AgeLabel, AgeOver, AgeUnder, AgeUnderHint                          string // of an age
	GuardianLabel, GuardianHint                                        string
	TermsTitle, RightsLabel, RightsHint                                string
	TermsLabel, TermsLabelHint, PrivacySay                             string // of a number of days
	SendRequest, ScriptOff                                             string
	Colours                                                            map[string]string // those spools often have
}

// mineWords are those of a request's page.
type mineWords struct {
	MineTitle, KeepLink, KeepLinkSay, AgainSay                string // of a time
	SharedComputer                                            string
	StepsTitle                                                string
	Steps                                                     []string // of the seven states of the road
	Standing                                                  map[desk.State]string
	StandingOfferOver, StandingChecking                       string // of a day
	StandingPlates, StandingExpect                            string // of two numbers; of a moment
	Ended                                                     map[desk.State]string
	ByMail, SentYou                                           string // SentYou of an address
	ReasonSay                                                 string // of a text
	LookAgain                                                 string
	FilesTitle, Checking, CheckWaits, CheckFailed             string
	NotModel, PictureAlt, SheetAlt, SixSides                  string // of a name
	SizeFact, SizeOfEach, Fine, SentOn                        string
	Groups                                                    map[findings.Severity]string
	AskedBefore, OfAllFiles                                   string
	OfferTitle, OfferUntil, Recommended, ChooseThis           string // of a day
	PriceLines, TimeFact, WeightFact, LayersFact              string
	CostFact, WayPicture                                      string
	WishFacts                                                 string
	WishAsIs, WishLargest, WishSize                           string // of a length
	AgreedTitle, AgreedFact, AgreedGuardian                   string
	FinalPrice                                                map[desk.FinalPrice]string
	ShelfTitle, ShelfWhere, ShelfPlace, ShelfUntil            string
	ShelfPay, ShelfNothing, ShelfHours, ShelfNext, ShelfBring string
	AccountTitle, Balance, ToRepay                            string
	Charges                                                   map[desk.ChargeKind]string
	Paid                                                      map[string]string // how, as staff choose it
	LettersTitle, NoLetters, WriteLabel, WriteHint            string
	WriteButton, You, Library, WriteTitle                     string
	AddTitle, AddSay, AddLabel, AddButton                     string
	MoreTitle, WithdrawLink, CopyLink, ForgetLink             string
	ForgetOn                                                  string // of a day
	NoLinkSay                                                 string
	BackToRequest                                             string
}

// agreeWords are those of the page to agree on.
type agreeWords struct {
	AgreeTitle, ChosenTitle, OtherWay           string
	CautionsTitle, CautionsLabel                string
	AgreeGuardianLabel, AgreeGuardianHint       string // of an age
	AgreeAge, AgreeAgeOver, AgreeAgeUnder       string
	AgreeButton, AgreeLabel, GuardianAgreeLabel string
	ChangedTitle                                string
	NothingPaid                                 string
}

// leaveWords are those of withdrawing and being forgotten.
type leaveWords struct {
	WithdrawTitle, WithdrawSay, WithdrawWhy, WithdrawHint, WithdrawButton string
	ForgetTitle, ForgetSay, ForgetStays, ForgetOpen, ForgetCopyFirst      string
	ForgetNotYet, ForgetButton, GoneTitle, GoneSay                        string
}

var english = words{
	Lang: "en", Name: "English",
	Months:  []string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
	Days:    []string{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"},
	DayForm: "%s %s %s %d", MomentForm: "%s %s %d, %s", FirstOfMonth: "1", Comma: ".", Byte: "B", UnderMinute: "under a minute",
	frameWords: frameWords{
		View: englishView,
		Skip: "Skip to the page", Service: "3D-printing desk", Staff: "Staff", Licences: "Licences",
		Optional: "(optional)", ErrorMark: "Error: ", OneWrong: "One thing needs mending", ManyWrong: "%d things need mending",
		Cancel: "Leave it as it is",
		FaultTitles: map[desk.Kind]string{
			desk.Wrong: "Something needs mending", desk.NotFound: "Not found", desk.NotYours: "Not allowed",
			desk.NotNow: "Not at this point", desk.Stale: "Changed meanwhile", desk.TooMany: "Too many at once",
			desk.NoRoom: "The desk cannot write just now", desk.Broken: "Something went wrong here",
		},
		Sending: "Sending: {percent} % of {size}", SendingBar: "Sending", SentAll: "Sent. The desk is putting it away.",
		BrokeOff:   "The connection broke off. Nothing you typed is lost: send the form again, and it will count once.",
		FormBroken: "The form did not arrive whole, so nothing of it was kept. Check the connection and send it again; it will count once.",
		FormApart:  "This form has come apart on its way. Open the page again and send it once more.",
		FormLarge:  "That was larger than this form takes at once, so it was not taken. Send fewer or smaller files at a time.",
		FormFailed: "That did not work, through no fault of yours. Nothing was half done. Try again; if it happens again, tell the library the number below.",
		ManyBytes:  "Very many files came from your network within the hour, so no more are stored now. What you typed is here still. Choose the files again in an hour, or bring them to the library.",
		ManyAsks:   "Many requests came from your network just now. Wait a few minutes, go back to find what you typed, and send the form again.",
		Meanwhile:  "What happened meanwhile", NumberForLibrary: "Number for the library:", FrontPage: "To the front page",
	},
	welcomeWords: welcomeWords{
		WelcomeTitle: "Have something printed in 3D",
		WelcomeLead:  "Send us a model. We look at it, tell you what it takes and what it costs, and print it once you agree.",
		AskButton:    "Ask for a print",
		HowTitle:     "How it goes",
		How: []string{
			"You send your model and say how you would like it. You need no account.",
			"We check it and tell you in plain words if something will not print well.",
			"You see the ways to print it, each with its price and time, and choose.",
			"We print it. Should a print fail, we tell you and try again.",
			"You collect it from the hold shelf of your branch, and pay there.",
		},
		CostTitle: "What it costs", CostExact: "You see the price of your own model before you agree to anything.",
		CostSetUp: map[tariff.Per]string{tariff.PerRequest: "%s for each request", tariff.PerPrint: "%s for each print of the request", tariff.PerCopy: "%s for each copy"},
		CostGram:  "%s: %s a gram", CostGramOther: "other materials: %s a gram", CostGramAny: "%s a gram of material", CostHour: "%s for each hour of printing",
		CostFree: "Printing is free.", CostLeast: "at least %s a request", CostTax: "%s of %s %% is in these prices", CostTaxOn: "%s of %s %% comes on top",
		CanTitle: "What can be printed",
		CanFiles: "Files", CanFilesSay: "%s, up to %s each",
		CanLongest: "Longest print", CanLongestSay: "%s; what takes longer is made smaller or in parts",
		CanMonth: "How often", CanMonthSay: "%d requests a month",
		CanKeep: "Collecting", CanKeepSay: "we keep a finished print for you for %d days",
		CanAge: "Age", CanAgeSay: "under %d a guardian agrees with you",
		BranchesTitle: "Branches and hours today", ClosedToday: "closed today", ClosedTodayWhy: "closed today: %s",
		OpenFromTo: "%s to %s", OpenNow: "open now", NoBranches: "No branch takes requests at the moment. Come back another day.",
		FindTitle:  "You have asked already?",
		FindSay:    "Your request has a page of its own; its link was on the first page you saw after asking, and in every message we sent. If you lost it, staff at any branch find your request by its code, such as K7-204, or your name, and give you the link again. The code alone opens nothing.",
		InLanguage: "This page in English",
	},
	askWords: askWords{
		AskTitle: "Ask for a print", AskLead: "It takes about five minutes. You agree to nothing and owe nothing by asking.",
		ModelTitle: "Your model", FilesLabel: "Model files", FilesHint: "%s, up to %s each and %d in all. If you have a drawing program’s own file, export it as STL or 3MF.",
		HereAlready: "With us already", LeaveOut: "leave this one out", KeptHint: "These need not be sent again. Choose further files only if there are more.",
		WishTitle: "How you would like it", SizeLabel: "Size", SizeAsIs: "As it is in the file", SizeAsIsHint: "If the file does not say its unit, we will ask.",
		SizeLength: "Longest side of a certain length", SizeLargest: "As large as possible", SizeLargestHint: "Within what our printers and the longest print allow.",
		LengthLabel: "Length of the longest side", LengthHint: "Only if you chose a certain length.", UnitLabel: "Unit",
		Millimetres: "millimetres", Centimetres: "centimetres", Inches: "inches",
		ColourLabel: "Colour", AnyColour: "any colour", CopiesLabel: "Copies",
		NeededLabel: "Needed by", NeededHint: "We cannot promise it, but we will say if it cannot be done.",
		PurposeLabel: "What is it for?", PurposeHint: "It helps us choose how to print it: a gift, a spare part for a lamp, a school project.",
		NoteLabel: "Anything else", NoteHint: "Which way up, which parts belong together, what must be strong or fine.",
		YouTitle: "You", NameLabel: "Name", NameHint: "As on your library card, if you have one.",
		EmailLabel: "E-mail", EmailHint: "Only for this request. We send you a link to its page and the price.", EmailHintOff: "Only for this request, so that staff can reach you.",
		PhoneLabel: "Telephone", CardLabel: "Library card number", LanguageLabel: "Language we write to you in", BranchLabel: "Branch to collect it from", ChooseBranch: "Choose a branch",
		AgeLabel: "Are you %d or older?", AgeOver: "Yes, %d or older", AgeUnder: "No, under %d", AgeUnderHint: "Then fill in the form together with a guardian: they accept the terms.",
		GuardianLabel: "Guardian’s name", GuardianHint: "A parent, or another adult who stands for you. Only if you are under the age above.",
		TermsTitle: "Rights and terms", RightsLabel: "I have the right to have this made", RightsHint: "It is my own design, or its licence allows it, and nobody’s rights stand against it.",
		TermsLabel: "I have read the terms and accept them", TermsLabelHint: "For someone under age the guardian accepts them.",
		PrivacySay:  "We use what you tell us for this request alone. %d days after it has come to its end your name, address, messages and files are deleted; you can ask for that at once on the page of your request, or for a copy of all we hold.",
		SendRequest: "Send the request", ScriptOff: "Large files take a while: stay on this page until the next one appears.",
		Colours: map[string]string{"black": "black", "white": "white", "grey": "grey", "silver": "silver", "red": "red", "orange": "orange",
			"yellow": "yellow", "green": "green", "blue": "blue", "purple": "purple", "pink": "pink", "brown": "brown", "gold": "gold", "clear": "clear", "natural": "natural"},
	},
	mineWords: mineWords{
		MineTitle: "Your request", KeepLink: "We have your request. Its code is", KeepLinkSay: "Keep the address of this page: it is the way back here, and whoever has it can act for you. Tell staff the code when you speak to them.",
		AgainSay:       "This form was sent before, %s. It counts once; what you may have changed since is not in it. Write to us below if something should be different.",
		SharedComputer: "On a shared computer, close the window when you are done.",
		ByMail:         "You get an e-mail when that is so.", SentYou: "We have sent it to %s as well.",
		StepsTitle: "Where it stands",
		Steps:      []string{"Received", "In review", "Your turn", "Agreed", "Printing", "On the hold shelf", "Collected"},
		Standing: map[desk.State]string{
			desk.Received:   "We have your request. A member of staff will look at it soon; what they find appears here.",
			desk.InReview:   "A member of staff is looking at it. What there is to choose or to settle appears here.",
			desk.WithPatron: "It is your turn: look at the ways below and choose one by %s.",
			desk.Agreed:     "You have agreed. It waits for a printer; there is nothing you need to do.",
			desk.Printing:   "It is being printed.",
			desk.OnShelf:    "It is ready. Collect it at %s by %s.",
		},
		StandingOfferOver: "The offer stood until %s and is over. Write to us below and we will make a fresh one.",
		StandingChecking:  "Your files are being checked. This takes a few minutes at most, and goes on if you leave.",
		StandingPlates:    "%d of %d prints are done.", StandingExpect: "The one that is going should end %s.",
		Ended: map[desk.State]string{
			desk.Collected: "You have collected it. Thank you.", desk.Declined: "We could not take this on.",
			desk.Withdrawn: "You have withdrawn this request.", desk.Lapsed: "This request has lapsed.",
		},
		ReasonSay: "The reason: %s", LookAgain: "Look again",
		FilesTitle: "Your files", Checking: "Being checked", CheckWaits: "Waiting to be checked", CheckFailed: "Our check of this file came to nothing, through no fault of yours. Staff will look at it.",
		NotModel: "Kept beside the models; not checked.", PictureAlt: "Picture of %s as it would stand on the printer", SheetAlt: "%s from six sides", SixSides: "From six sides",
		SizeFact: "Size", SizeOfEach: "%d, each %s", Fine: "We found nothing that speaks against printing it.", SentOn: "Sent",
		Groups:      map[findings.Severity]string{findings.Stop: "It cannot be printed like this", findings.Ask: "We will ask you about this", findings.Note: "Worth knowing"},
		AskedBefore: "What was to be settled", OfAllFiles: "Of all these files",
		OfferTitle: "Ways to print it", OfferUntil: "This offer stands until %s.", Recommended: "The one we would choose", ChooseThis: "Choose this way",
		PriceLines: "How the price comes about", TimeFact: "Printing time", WeightFact: "Material", LayersFact: "Layers", CostFact: "Price", WayPicture: "Picture of this way",
		WishFacts: "What you asked for",
		WishAsIs:  "as it is in the file", WishLargest: "as large as possible", WishSize: "longest side %s",
		AgreedTitle: "What you agreed to", AgreedFact: "Agreed", AgreedGuardian: "Guardian",
		FinalPrice: map[desk.FinalPrice]string{
			desk.AsQuoted:  "You pay the price quoted, whatever the print weighs in the end.",
			desk.AsWeighed: "We weigh the print, and you pay for what was really used; that can be a little more or less than quoted.",
			desk.TheLower:  "We weigh the print. If it took less than quoted you pay less, and never more.",
		},
		ShelfTitle: "Ready to collect", ShelfWhere: "Where", ShelfPlace: "On the shelf", ShelfUntil: "Until", ShelfPay: "To pay", ShelfNothing: "nothing",
		ShelfHours: "Hours today", ShelfNext: "Opens next", ShelfBring: "Tell staff the code %s and your name.",
		AccountTitle: "What it costs", Balance: "To pay", ToRepay: "To be given back",
		Charges:      map[desk.ChargeKind]string{desk.PriceCharge: "Price", desk.Correction: "Correction", desk.Waiver: "Let off", desk.Payment: "Paid", desk.Repayment: "Given back"},
		Paid:         map[string]string{"cash": "cash", "card": "card", "library account": "library account"},
		LettersTitle: "Messages", NoLetters: "Nothing was written yet.", WriteLabel: "Your message", WriteHint: "A question, an answer, something to change. Staff read it and answer here.",
		WriteButton: "Send the message", You: "You", Library: "The library", WriteTitle: "Write to the library",
		AddTitle: "Send a mended file", AddSay: "If a model needs mending, send the mended one here. A way that was offered is taken back then, and we look at it again.", AddLabel: "Mended file", AddButton: "Send the file",
		MoreTitle: "More you can do", WithdrawLink: "Withdraw the request", CopyLink: "Get a copy of all we hold (zip)", ForgetLink: "Have it all forgotten now",
		ForgetOn:      "By itself it is forgotten on %s.",
		NoLinkSay:     "There is no request under this link. It may be cut short, or the request may be over and forgotten, as the library does after its days. Check that the whole link is there. Staff at any branch can look a request up by its code or your name and give you the link again.",
		BackToRequest: "Back to your request",
	},
	agreeWords: agreeWords{
		AgreeTitle: "Agree to this way", ChosenTitle: "What you chose", OtherWay: "Choose another way",
		CautionsTitle: "What the print is not for", CautionsLabel: "I have read what it is not for",
		AgreeGuardianLabel: "Guardian’s name", AgreeGuardianHint: "As the patron is under %d, a guardian agrees for them.",
		AgreeAge: "Are you %d or older?", AgreeAgeOver: "Yes, %d or older", AgreeAgeUnder: "No, under %d: a guardian agrees with me",
		AgreeButton: "Agree and have it printed", AgreeLabel: "I have read the terms and accept them", GuardianAgreeLabel: "I am the guardian, have read the terms and accept them",
		ChangedTitle: "What changed", NothingPaid: "Nothing is paid now. You pay when you collect it.",
	},
	leaveWords: leaveWords{
		WithdrawTitle: "Withdraw this request?", WithdrawSay: "It will not be printed, and you owe nothing. This cannot be undone; for another try make a new request.",
		WithdrawWhy: "Why?", WithdrawHint: "Only if you like to say.", WithdrawButton: "Withdraw the request",
		ForgetTitle: "Have it all forgotten now?", ForgetSay: "Your name, address, messages, files and pictures are deleted at once, and this page with them. It cannot be undone.",
		ForgetStays: "What stays are counts without any name: that there was a request, of which month and branch, how it ended, and how much material, time and money it took.",
		ForgetOpen:  "The request is not over yet: it is withdrawn with it, and will not be printed.", ForgetCopyFirst: "Get a copy first",
		ForgetNotYet: "The print is being made or waits for you, and for that we need your name. Once it is collected everything can be forgotten at once. If you do not want it any more, write to us or ask at the desk.",
		ForgetButton: "Forget it all", GoneTitle: "Nothing is held", GoneSay: "Nothing is held under that link any more.",
	},
}
