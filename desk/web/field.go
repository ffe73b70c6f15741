package web

import "fmt"

// Field is one question of a form, as the templates "text", "area", "select",
// "radios", "checks" and "file" draw it. The zero value of all but Name and
// Label will do.
type Field struct {
	Name, Label string
	Hint        string // below the label
	Value       string // what was typed before; for a select or radios, what is chosen
	Error       string // why it cannot be taken
	Optional    bool   // says so beside the label
	Type        string // of a text: email, tel, number, date, password, search; "" is text
	Auto        string // autocomplete, as in WCAG 1.3.5: "email", "name", …
	Mode        string // inputmode: "numeric", "decimal"
	Unit        string // after a text: "mm"
	Width       string // of a text: "short" (a number), "mid"; "" is full
	Rows        int    // of an area; 0 means 4
	Choices     []Choice
	Accept      string // of a file
	Several     bool   // files
	Lang        string // of the words around it, as "fr"; "" is English
	Focus       bool   // of a text: what is typed goes here at once
	Key         string // tells fields of the same Name apart on a page; empty is Name
}

// Choice is one answer that can be chosen.
type Choice struct {
	Value, Label, Hint string
	Chosen             bool // of checks; elsewhere Field.Value says it
}

// ID is the field's id in the page.
func (f Field) ID() string {
	if f.Key != "" {
		return "f-" + f.Key
	}
	return "f-" + f.Name
}

// Kind is the type attribute of a text.
func (f Field) Kind() string {
	if f.Type == "" {
		return "text"
	}
	return f.Type
}

// Described lists the ids that describe the field.
func (f Field) Described() string {
	switch {
	case f.Hint != "" && f.Error != "":
		return f.ID() + "-hint " + f.ID() + "-error"
	case f.Hint != "":
		return f.ID() + "-hint"
	case f.Error != "":
		return f.ID() + "-error"
	}
	return ""
}

// Tall is how many rows an area has.
func (f Field) Tall() int {
	if f.Rows == 0 {
		return 4
	}
	return f.Rows
}

// Words are those of the field's language.
func (f Field) Words() *words {
	if w := tongueOf(f.Lang); w != nil {
		return w
	}
	return tongues[0]
}

// Target is where the error summary's link leads: radios and checks have the
// id of their first answer.
func (f Field) Target() string {
	if len(f.Choices) > 0 && f.Type != "select" {
		return f.ID() + "-0"
	}
	return f.ID()
}

// Missed is one line of the error summary on top of a page.
type Missed struct {
	Target, Say string
	Lang        string // "" is English
}

// missedHead is the heading over the lines.
func missedHead(all []Missed) string {
	w := tongues[0]
	if len(all) > 0 {
		if t := tongueOf(all[0].Lang); t != nil {
			w = t
		}
	}
	if len(all) == 1 {
		return w.OneWrong
	}
	return fmt.Sprintf(w.ManyWrong, len(all))
}

// missed gathers what is wrong with some fields, in their order, for the
// template "errors".
func missed(fields ...Field) []Missed {
	var all []Missed
	for _, f := range fields {
		if f.Error != "" {
			all = append(all, Missed{f.Target(), f.Error, f.Lang})
		}
	}
	return all
}

// mark puts a fault's sentences at the fields they belong to, by name.
func mark(sentences map[string]string, fields ...*Field) {
	for _, f := range fields {
		if say := sentences[f.Name]; say != "" {
			f.Error = say
		}
	}
}
