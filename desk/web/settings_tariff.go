package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
	"platebook/engine/tariff"
)

var tariffWords = map[string]string{
	"ID": "Short name", "Name": "Name", "Currency": "Currency", "SetUp": "Set-up", "SetUpPer": "Set-up is charged", "PerGram": "A gram of",
	"PerGramOther": "A gram of other materials", "GramStep": "Grams are rounded to", "GramRounding": "Grams are rounded", "PerHour": "An hour of printing",
	"MinuteStep": "Minutes are rounded to", "MinuteRounding": "Minutes are rounded", "Minimum": "Least a request costs",
	"MoneyRounding": "Amounts are rounded", "TotalStep": "The total is rounded to", "TotalRounding": "The total is rounded",
	"Taxes": "Tax", "TaxIncluded": "Prices include tax", "TaxTogether": "Taxes are added up before they are rounded", "Percent": "percent", "On": "on",
}

// tariffView is the page of the tariff with a price worked out on it.
type tariffView struct {
	Sheet                sheet
	Grams, Hours, Copies Field
	Material             Field
	Price                *tariffPrice
	Trouble              string // why there is no price
	Said                 []string
}

// tariffPrice is an example worked out line by line.
type tariffPrice struct {
	Lines []tariffLine
	Total string
	Notes []string // taxes that are in the lines already
}

type tariffLine struct{ Label, Amount string }

var tariffPage = newPage[tariffView](forStaff, "settings_tariff.html")

var roundings = []Choice{
	{Value: string(tariff.Up), Label: "up"}, {Value: string(tariff.Down), Label: "down"},
	{Value: string(tariff.Nearest), Label: "nearest, halves up"}, {Value: string(tariff.HalfEven), Label: "nearest, halves to even"},
}

var taxKinds = []Choice{
	{Value: string(tariff.SetUp), Label: "set-up"}, {Value: string(tariff.Material), Label: "material"},
	{Value: string(tariff.PrintTime), Label: "printing time"}, {Value: string(tariff.UpToLeast), Label: "what is missing to the least"},
}

func tariffParts(t tariff.Tariff, set desk.Settings) ([]sheetPart, error) {
	c, err := desk.Catalogue(set)
	if err != nil {
		return nil, err
	}
	amount := func(name, label string, v tariff.Decimal, unit, hint string) asked {
		return asked{"text", Field{Name: name, Label: label, Value: string(v), Unit: unit, Hint: hint, Mode: "decimal", Width: "short"}}
	}
	rounding := func(name, label string, v tariff.Rounding) asked {
		return asked{"select", Field{Name: name, Label: label, Value: string(v), Type: "select", Choices: roundings}}
	}
	tick := func(name, label string, on bool) asked {
		f := Field{Name: name, Label: label}
		if on {
			f.Value = "yes"
		}
		return asked{"check", f}
	}
	perGram := sheetPart{Title: "A gram of material", Row: true, Say: "A material left empty costs what other materials cost; if that is empty too, it is not offered."}
	for _, m := range c.Materials {
		perGram.Fields = append(perGram.Fields, amount("gram-"+m.ID, m.Name, t.PerGram[m.ID], t.Currency, ""))
	}
	perGram.Fields = append(perGram.Fields, amount("per_gram_other", "Other materials", t.PerGramOther, t.Currency, ""))
	parts := []sheetPart{
		{Fields: []asked{
			{"text", Field{Name: "name", Label: "Name", Value: t.Name, Width: "mid"}},
			{"text", Field{Name: "currency", Label: "Currency", Value: t.Currency, Width: "short", Hint: "Three letters, like EUR (ISO 4217)."}},
		}},
		{Title: "Each request", Fields: []asked{
			amount("set_up", "Set-up", t.SetUp, t.Currency, ""),
			{"select", Field{Name: "set_up_per", Label: "Set-up is charged", Value: string(t.SetUpPer), Type: "select", Choices: []Choice{
				{Value: string(tariff.PerRequest), Label: "once a request"}, {Value: string(tariff.PerPrint), Label: "for each plate"}, {Value: string(tariff.PerCopy), Label: "for each copy"}}}},
			amount("minimum", "Least a request costs", t.Minimum, t.Currency, "Before taxes, or with them if prices include them."),
		}},
		perGram,
		{Title: "Weights and times", Row: true, Fields: []asked{
			amount("gram_step", "Grams are rounded to", t.GramStep, "g", ""), rounding("gram_rounding", "Grams are rounded", t.GramRounding),
			amount("per_hour", "An hour of printing", t.PerHour, t.Currency, ""),
			amount("minute_step", "Minutes are rounded to", t.MinuteStep, "min", ""), rounding("minute_rounding", "Minutes are rounded", t.MinuteRounding),
		}},
		{Title: "Sums", Row: true, Fields: []asked{
			rounding("money_rounding", "Amounts are rounded", t.MoneyRounding),
			amount("total_step", "The total is rounded to", t.TotalStep, t.Currency, "As where the smallest coin is 0.05. 0 leaves it."),
			rounding("total_rounding", "The total is rounded", t.TotalRounding),
		}},
		{Title: "Taxes", Say: "Empty a name to take a tax out.", Fields: []asked{
			tick("tax_included", "The prices above have the taxes in them", t.TaxIncluded),
			tick("tax_together", "Taxes are added up before they are rounded, not each alone", t.TaxTogether),
		}},
	}
	for i := range min(len(t.Taxes)+1, 10) {
		var x tariff.Tax
		title := "Another tax"
		if i < len(t.Taxes) {
			x, title = t.Taxes[i], fmt.Sprintf("Tax %d", i+1)
		}
		on := Field{Name: fmt.Sprintf("tax-%d-on", i), Label: "Only on", Hint: "None ticked is on all of it.", Optional: true}
		for _, k := range taxKinds {
			k.Chosen = slices.Contains(x.On, tariff.Kind(k.Value))
			on.Choices = append(on.Choices, k)
		}
		parts = append(parts, sheetPart{Title: title, Fields: []asked{
			{"text", Field{Name: fmt.Sprintf("tax-%d-name", i), Label: "Name on quotes", Value: x.Name, Width: "mid"}},
			{"text", Field{Name: fmt.Sprintf("tax-%d-percent", i), Label: "Percent", Value: string(x.Percent), Unit: "%", Mode: "decimal", Width: "short"}},
			{"checks", on},
		}})
	}
	return parts, nil
}

// decimal is an amount as typed, with a comma taken for the point.
func decimal(r *http.Request, name string) tariff.Decimal {
	return tariff.Decimal(strings.Replace(strings.TrimSpace(r.PostFormValue(name)), ",", ".", 1))
}

func typedTariff(r *http.Request, set desk.Settings) (tariff.Tariff, error) {
	c, err := desk.Catalogue(set)
	if err != nil {
		return tariff.Tariff{}, err
	}
	t := tariff.Tariff{ID: set.Tariff.ID, Name: r.PostFormValue("name"), Currency: strings.ToUpper(strings.TrimSpace(r.PostFormValue("currency"))),
		SetUp: decimal(r, "set_up"), SetUpPer: tariff.Per(r.PostFormValue("set_up_per")), PerGramOther: decimal(r, "per_gram_other"),
		GramStep: decimal(r, "gram_step"), GramRounding: tariff.Rounding(r.PostFormValue("gram_rounding")),
		PerHour: decimal(r, "per_hour"), MinuteStep: decimal(r, "minute_step"), MinuteRounding: tariff.Rounding(r.PostFormValue("minute_rounding")),
		Minimum: decimal(r, "minimum"), MoneyRounding: tariff.Rounding(r.PostFormValue("money_rounding")),
		TotalStep: decimal(r, "total_step"), TotalRounding: tariff.Rounding(r.PostFormValue("total_rounding")),
		TaxIncluded: r.PostFormValue("tax_included") != "", TaxTogether: r.PostFormValue("tax_together") != "",
		PerGram: map[string]tariff.Decimal{}}
	for _, m := range c.Materials {
		if d := decimal(r, "gram-"+m.ID); d != "" {
			t.PerGram[m.ID] = d
		}
	}
	for i := range 10 {
		if name := strings.TrimSpace(r.PostFormValue(fmt.Sprintf("tax-%d-name", i))); name != "" {
			x := tariff.Tax{Name: name, Percent: decimal(r, fmt.Sprintf("tax-%d-percent", i))}
			for _, k := range r.PostForm[fmt.Sprintf("tax-%d-on", i)] {
				x.On = append(x.On, tariff.Kind(k))
			}
			t.Taxes = append(t.Taxes, x)
		}
	}
	return t, nil
}

// example works out a price by a tariff that may not be saved yet.
func (v *tariffView) example(r *http.Request, t tariff.Tariff, set desk.Settings) {
	get := func(name, usual string) string {
		if x := strings.TrimSpace(r.PostFormValue(name)); x != "" {
			return x
		}
		return usual
	}
	v.Grams = Field{Name: "try-grams", Label: "Weight", Value: get("try-grams", "23"), Unit: "g", Mode: "decimal", Width: "short"}
	v.Hours = Field{Name: "try-hours", Label: "Printing time", Value: get("try-hours", "2"), Unit: "h", Mode: "decimal", Width: "short"}
	v.Copies = Field{Name: "try-copies", Label: "Copies", Value: get("try-copies", "1"), Mode: "numeric", Width: "short"}
	v.Material = Field{Name: "try-material", Label: "Material", Type: "select", Value: get("try-material", set.Rules.Usual.Material)}
	name := v.Material.Value
	if c, err := desk.Catalogue(set); err == nil {
		for _, m := range c.Materials {
			if _, named := t.PerGram[m.ID]; named || t.PerGramOther != "" {
				v.Material.Choices = append(v.Material.Choices, Choice{Value: m.ID, Label: m.Name})
			}
		}
		if i := slices.IndexFunc(v.Material.Choices, func(c Choice) bool { return c.Value == v.Material.Value }); i >= 0 {
			name = v.Material.Choices[i].Label
		} else if len(v.Material.Choices) > 0 {
			v.Material.Value, name = v.Material.Choices[0].Value, v.Material.Choices[0].Label
		}
	}
	if err := t.Validate(); err != nil {
		v.Trouble = "There is no price as long as the tariff is not right."
		return
	}
	v.Said = t.Said()
	in := &typed{r: r, wrong: map[string]string{}}
	grams, hours, copies := 23.0, 2.0, 1
	if r.PostFormValue("try-grams") != "" {
		grams, hours, copies = in.number("try-grams"), in.number("try-hours"), in.whole("try-copies")
	}
	mark(in.wrong, &v.Grams, &v.Hours, &v.Copies)
	if len(in.wrong) > 0 || grams < 0 || grams > 1e6 || hours < 0 || hours > 1e4 || copies < 1 || copies > 1000 {
		v.Trouble = "Write a weight, a time and a number of copies that can be, and try again."
		return
	}
	p, err := t.Price(tariff.Order{Items: []tariff.Item{{Material: v.Material.Value, Name: name, Grams: grams}}, Prints: 1, Copies: copies, Seconds: hours * 3600})
	if err != nil {
		v.Trouble = err.Error() + "."
		return
	}
	v.Price = &tariffPrice{Total: p.Format(p.Total, set.Library.Locale)}
	for _, l := range p.Lines {
		v.Price.Lines = append(v.Price.Lines, tariffLine{l.Label, p.Format(l.Amount, set.Library.Locale)})
	}
	for _, l := range p.Included {
		v.Price.Notes = append(v.Price.Notes, "of which "+l.Label+": "+p.Format(l.Amount, set.Library.Locale))
	}
}

func (s *Site) tariffForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.TariffSetting)
	if err != nil {
		return err
	}
	if v.Parts, err = tariffParts(set.Tariff, set); err != nil {
		return err
	}
	page := tariffView{Sheet: v}
	page.example(r, set.Tariff, set)
	return show(s, w, r, http.StatusOK, tariffPage, page)
}

func (s *Site) saveTariff(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.settingSheet(r, who, desk.TariffSetting)
	if err != nil {
		return err
	}
	t, err := typedTariff(r, set)
	if err != nil {
		return err
	}
	version := int(number64(r, "version"))
	status := http.StatusOK
	var saving error
	if r.PostFormValue("do") != "try" {
		var doc any = t
		if r.PostFormValue("new_currency") != "" {
			doc = desk.NewCurrency{Tariff: t}
		}
		var now int
		if now, saving = s.desk.SaveSetting(r.Context(), who, desk.TariffSetting, version, doc); saving == nil {
			return s.saved(w, r, version, now, v.Path)
		}
		status = statusOf(desk.KindOf(saving))
	}
	if v.Parts, err = tariffParts(t, set); err != nil {
		return err
	}
	if r.PostFormValue("new_currency") != "" || saving != nil && strings.Contains(faultOf(saving).Fields["currency"], "open") {
		v.Parts[0].Fields = append(v.Parts[0].Fields, asked{"check", Field{Name: "new_currency", Label: "Change the currency for new requests; open ones stay in " + set.Tariff.Currency,
			Value: r.PostFormValue("new_currency")}})
	}
	v.Version, v.Seen = number64(r, "version"), int(number64(r, "seen"))
	if saving != nil {
		if desk.KindOf(saving) == desk.Stale {
			v.meanwhile(history, v.Seen, int64(len(history)), s.zone(r), naming(tariffWords, nil))
		}
		if !v.fault(atTariffField(saving)) {
			return saving
		}
	}
	page := tariffView{Sheet: v}
	page.example(r, t, set)
	return show(s, w, r, status, tariffPage, page)
}

// atTariffField finds the field on this page for those several fields share.
func atTariffField(err error) error {
	f := faultOf(err)
	if f.Kind != desk.Wrong {
		return err
	}
	fields := map[string]string{}
	for k, say := range f.Fields {
		switch k {
		case "per_gram":
			k = "per_gram_other"
			if _, rest, ok := strings.Cut(say, "per_gram."); ok {
				id, _, _ := strings.Cut(rest, ":")
				k = "gram-" + id
			}
		case "taxes":
			k = "tax-0-name"
			var n int
			if _, err := fmt.Sscanf(say, "tax %d:", &n); err == nil {
				k = fmt.Sprintf("tax-%d-percent", n-1)
			}
		}
		fields[k] = say
	}
	return &desk.Fault{Kind: f.Kind, Say: f.Say, Err: f.Err, Fields: fields}
}
