// Package say holds sentences as data, to be put into words late and in any
// language.
//
// A Saying is a form with what fills it: numbers, names, other Sayings. The form
// is the English sentence; it is what a reader of the code sees, what English
// says, and the key under which another language keeps its own. A language is a
// file in words/, named by its tag; a new file is a new language.
//
// What never enters: geometry, people, a clock. Numbers come with the digits the
// room that knows them chose to show; a language changes how they are written
// (marks, spaces, units), never what they say. Where a language lacks any form
// of a sentence the whole sentence is said in English, never half of it.
package say
