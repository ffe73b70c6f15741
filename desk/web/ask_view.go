package web

import (
	"fmt"
	"slices"
	"strings"

	"platebook/desk"
)

// askView fills the form with what was typed before, and with what is wrong.
func (s *Site) askView(f desk.AskFacts, in sent, fault *desk.Fault, wrong map[string]string, t *words) askView {
	rules, set := f.Settings.Rules, f.Settings
	v := askView{W: t, Others: others(set.Library, t, "/ask"), Form: in.Get("form"), Lang: t.Lang,
		Terms: set.Versions[desk.TermsSetting], AskAge: rules.Age > 0}
	if fault != nil {
		v.Say = fault.Say
	}
	v.Kept = s.keptViews(v.Form, in, t)
	v.Files = Field{Name: "files", Label: t.FilesLabel, Several: true, Accept: accepting(rules.Formats),
		Hint: fmt.Sprintf(t.FilesHint, desk.Endings(rules.Formats, t.Lang), t.bytes(rules.MaxFile), rules.MaxFiles)}
	v.Size = Field{Name: "size", Label: t.SizeLabel, Value: or(in.Get("size"), "asis"), Choices: []Choice{
		{Value: "asis", Label: t.SizeAsIs, Hint: t.SizeAsIsHint}, {Value: "length", Label: t.SizeLength}, {Value: "largest", Label: t.SizeLargest, Hint: t.SizeLargestHint}}}
	v.Length = Field{Name: "length", Label: t.LengthLabel, Hint: t.LengthHint, Value: in.Get("length"), Optional: true, Mode: "decimal", Width: "short"}
	v.Unit = Field{Name: "unit", Label: t.UnitLabel, Value: or(in.Get("unit"), "mm"), Type: "select", Choices: []Choice{
		{Value: "mm", Label: t.Millimetres}, {Value: "cm", Label: t.Centimetres}, {Value: "in", Label: t.Inches}}}
	v.Colour = Field{Name: "colour", Label: t.ColourLabel, Value: in.Get("colour"), Type: "select", Choices: colours(f.Colours, in.Get("colour"), t)}
	v.Copies = Field{Name: "copies", Label: t.CopiesLabel, Value: or(in.Get("copies"), "1"), Mode: "numeric", Width: "short"}
	v.Needed = Field{Name: "needed", Label: t.NeededLabel, Hint: t.NeededHint, Value: in.Get("needed"), Optional: true, Type: "date", Width: "mid"}
	v.Purpose = Field{Name: "purpose", Label: t.PurposeLabel, Hint: t.PurposeHint, Value: in.Get("purpose"), Optional: true}
	v.Note = Field{Name: "note", Label: t.NoteLabel, Hint: t.NoteHint, Value: in.Get("note"), Optional: true}
	v.Name = Field{Name: "name", Label: t.NameLabel, Hint: t.NameHint, Value: in.Get("name"), Auto: "name"}
	v.Email = Field{Name: "email", Label: t.EmailLabel, Hint: t.EmailHint, Value: in.Get("email"), Type: "email", Auto: "email"}
	if !set.Mail.On {
		v.Email.Hint = t.EmailHintOff
	}
	v.Phone = Field{Name: "phone", Label: t.PhoneLabel, Value: in.Get("phone"), Optional: true, Type: "tel", Auto: "tel", Width: "mid"}
	v.Card = Field{Name: "card", Label: t.CardLabel, Value: in.Get("card"), Optional: true, Width: "mid"}
	v.Language = Field{Name: "language", Label: t.LanguageLabel, Value: or(in.Get("language"), t.Lang), Type: "select", Choices: languages(set.Library)}
	v.Branch = Field{Name: "branch", Label: t.BranchLabel, Value: in.Get("branch"), Type: "select"}
	if len(f.Branches) != 1 {
		v.Branch.Choices = []Choice{{Label: t.ChooseBranch}}
	}
	for _, b := range f.Branches {
		v.Branch.Choices = append(v.Branch.Choices, Choice{Value: string(b.ID), Label: b.Name})
	}
	v.Age = Field{Name: "age", Label: fmt.Sprintf(t.AgeLabel, rules.Age), Value: in.Get("age"), Choices: []Choice{
		{Value: "over", Label: fmt.Sprintf(t.AgeOver, rules.Age)}, {Value: "under", Label: fmt.Sprintf(t.AgeUnder, rules.Age), Hint: t.AgeUnderHint}}}
	v.Guardian = Field{Name: "guardian", Label: t.GuardianLabel, Hint: t.GuardianHint, Value: in.Get("guardian"), Optional: true}
	v.Rights = Field{Name: "rights", Label: t.RightsLabel, Hint: t.RightsHint, Value: in.Get("rights")}
	if text := set.TermsIn(t.Lang); text != "" {
		v.TermText = paragraphs(text)
		v.Accept = Field{Name: "accept", Label: t.TermsLabel, Value: in.Get("accept")}
		if rules.Age > 0 {
			v.Accept.Hint = t.TermsLabelHint
		}
	}
	if rules.KeepDays > 0 {
		v.Privacy = fmt.Sprintf(t.PrivacySay, rules.KeepDays)
	}
	all := v.fields()
	if say := wrong["size"]; say != "" { // what is wrong with it is the number
		v.Length.Error = say
	}
	v.Accept.Error = wrong["terms"]
	mark(wrong, v.markable()...)
	for _, f := range all {
		f.Lang = t.Lang
		v.Errors = append(v.Errors, missed(*f)...)
	}
	return v
}

// fields are all of them in the order of the page.
func (v *askView) fields() []*Field {
	return []*Field{&v.Files, &v.Size, &v.Length, &v.Unit, &v.Colour, &v.Copies, &v.Needed, &v.Purpose, &v.Note, &v.Branch,
		&v.Name, &v.Email, &v.Phone, &v.Card, &v.Language, &v.Age, &v.Guardian, &v.Rights, &v.Accept}
}

// markable are those whose name is that of the desk's sentence.
func (v *askView) markable() []*Field {
	return slices.DeleteFunc(v.fields(), func(f *Field) bool { return f == &v.Size || f == &v.Accept })
}

func (s *Site) keptViews(form string, in sent, t *words) []keptView {
	var all []keptView
	for _, u := range slices.Concat(s.keptOf(form, in), in.files) {
		if u.Hash == "" || slices.ContainsFunc(all, func(k keptView) bool { return k.Hash == string(u.Hash) }) {
			continue
		}
		all = append(all, keptView{s.keep(form, u), string(u.Hash), u.Name, t.bytes(u.Size)})
	}
	return all
}

// accepting is the accept attribute of a file field: ".stl,.3mf".
func accepting(formats []string) string {
	var all []string
	for _, f := range formats {
		all = append(all, "."+f)
	}
	return strings.Join(all, ",")
}

func colours(stock []string, chosen string, t *words) []Choice {
	all := []Choice{{Label: t.AnyColour}}
	for _, c := range stock {
		all = append(all, Choice{Value: c, Label: t.colour(c)})
	}
	if chosen != "" && !slices.Contains(stock, chosen) { // gone from stock meanwhile: still the wish
		all = append(all, Choice{Value: chosen, Label: t.colour(chosen)})
	}
	return all
}

// colour is a spool's colour in the page's language, where it has a word.
func (w *words) colour(c string) string { return or(w.Colours[c], c) }

func languages(l desk.Library) []Choice {
	var all []Choice
	for _, w := range spoken(l) {
		all = append(all, Choice{Value: w.Lang, Label: w.Name})
	}
	return all
}
