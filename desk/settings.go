package desk

import (
	"time"

	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// SettingKind names one document of settings.
type SettingKind string

const (
	LibrarySetting  SettingKind = "library"
	RulesSetting    SettingKind = "rules"
	TariffSetting   SettingKind = "tariff"
	TermsSetting    SettingKind = "terms"
	TextsSetting    SettingKind = "texts"
	MailSetting     SettingKind = "mail"
	ProfilesSetting SettingKind = "profiles" // printer models, materials, ways: TOML laid over the built-in ones
)

// SettingKinds lists them all.
func SettingKinds() []SettingKind {
	return []SettingKind{LibrarySetting, RulesSetting, TariffSetting, TermsSetting, TextsSetting, ProfilesSetting, MailSetting}
}

// Setting is one version of one document. Versions count from 1 and none is
// ever changed or removed, so that an agreement can be held to the terms,
// tariff and rules it was made under.
type Setting struct {
	Kind    SettingKind
	Version int
	Body    []byte // JSON
	Since   time.Time
	By      string
}

// Settings are all documents as they stand, with their versions. Those that
// were never saved are the defaults, version 0.
type Settings struct {
	Versions map[SettingKind]int
	Library  Library
	Rules    Rules
	Tariff   tariff.Tariff
	Terms    Terms
	Texts    Texts
	Profiles Profiles
	Mail     MailSettings
}

// Library is the service itself.
type Library struct {
	Name      string   `json:"name"`
	Locale    string   `json:"locale"`    // BCP 47, how numbers and money are written
	TimeZone  string   `json:"time_zone"` // IANA
	Languages []string `json:"languages"` // patrons may choose; the first is the usual one
	Contact   string   `json:"contact"`   // how to reach the desk: shown to patrons
	Address   string   `json:"address"`   // of the service on the web, for links: https://…
}

// FinalPrice says what is charged.
type FinalPrice string

const (
	AsQuoted  FinalPrice = "quoted"
	AsWeighed FinalPrice = "weighed"
	TheLower  FinalPrice = "lower"
)

// Rules are those of the library, enforced everywhere.
type Rules struct {
	Formats    []string     `json:"formats"`   // endings without a dot
	MaxFile    int64        `json:"max_file"`  // bytes
	MaxFiles   int          `json:"max_files"` // of one request
	MaxCopies  int          `json:"max_copies"`
	Longest    quote.Length `json:"longest_print"`
	PerMonth   int          `json:"per_month"` // requests of one patron in a calendar month; 0 is no limit
	QuoteDays  int          `json:"quote_days"`
	PickupDays int          `json:"pickup_days"`
	RemindDays int          `json:"remind_days"` // before a quote or a pickup ends; 0 is never
	Attempts   int          `json:"attempts"`    // runs of one plate before it is given up
	PatronPays []Blame      `json:"patron_pays"` // failed runs the patron pays the material of
	Age        int          `json:"age"`         // under it a guardian agrees; 0 is never
	KeepDays   int          `json:"keep_days"`   // after the end, then forgotten
	AuditDays  int          `json:"audit_days"`  // log-ins are kept in the audit
	FinalPrice FinalPrice   `json:"final_price"`
	Reserve    float64      `json:"reserve_g"` // a spool should not be run below
	Questions  []Question   `json:"questions"`
	Cautions   []string     `json:"cautions"` // shown before agreeing
	Usual      Usual        `json:"usual"`
}

// Usual is what ways start from unless staff say otherwise.
type Usual struct {
	Printer  string `json:"printer"`
	Material string `json:"material"`
	Way      string `json:"way"`
}

// Question is one policy question staff answer before a request is quoted.
type Question struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	Help string `json:"help,omitempty"`
}

// Terms is the agreement text.
type Terms struct {
	Text map[string]string `json:"text"` // by language; paragraphs apart by an empty line
}

// Text is one message, as a template.
type Text struct {
	Subject string `json:"subject"`
	Body    string `json:"body"`
}

// TextKind names one message text.
type TextKind string

const (
	TextReceived TextKind = "received" // we have it; here is your link
	TextFound    TextKind = "found"    // what the check noticed, of requests by mail
	TextOffer    TextKind = "offer"    // ways and prices: choose
	TextQuestion TextKind = "question" // something must be settled first
	TextDeclined TextKind = "declined"
	TextAgreed   TextKind = "agreed"
	TextReprint  TextKind = "reprint" // a run failed, we try again
	TextReady    TextKind = "ready"   // on the hold shelf
	TextRemind   TextKind = "remind"  // a quote or a pickup is about to end
	TextLapsed   TextKind = "lapsed"
)

// TextKinds lists all of them.
func TextKinds() []TextKind {
	return []TextKind{TextReceived, TextFound, TextOffer, TextQuestion, TextDeclined, TextAgreed, TextReprint, TextReady, TextRemind, TextLapsed}
}

// Texts are the message texts by language, then by kind.
type Texts map[string]map[TextKind]Text

// Profiles is TOML laid over the built-in printer models, materials and ways.
type Profiles struct {
	TOML string `json:"toml"`
}
