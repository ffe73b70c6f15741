package web

import (
	"time"

	"platebook/desk"
)

func init() {
	at := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	example(lettersPage, "two waiting, one not sent", lettersView{
		Troubles: []string{"The server for the mail in refuses the user name or password. Enter them again in the mail settings."},
		Waiting: []letterLine{{"/desk/letters/1", "Wren Hollis, wren@patrons.example", "could you print this?", "It brings no model, but a link. Ask for the file itself: links are not opened from here.", 0, at},
			{"/desk/letters/2", "x@patrons.example", "", "It does not say who wrote it.", 2, at}},
		Failed: []letterOut{{"3", "wren@patrons.example", "K7-204: your print is ready", "The server for the mail out said: no such mailbox.", at}},
	})
	body := mailView{Path: "/desk/letters/1", From: "Wren Hollis, wren@patrons.example", Subject: "Re: <b>K7-204</b>", Text: "Two of these, please.\n\nIn red.", Quoted: "> Which colour?",
		Why: "Its subject names K7-204, but it is from another address than that request's.", Forwarded: "ada@patrons.example", Came: at, Waits: true, Models: true, Request: "/desk/r/K7-204",
		Files: []desk.MailFile{{Name: "hook.stl", Size: 123_456, In: "kit.zip"}}, Links: []string{"https://files.example/hook.stl"}, Odd: []string{"“a.zip” is locked with a password; ask for it unlocked."},
		Wishes: []desk.Suggestion{{Field: "copies", Value: "2", Words: "Two of these"}, {Field: "size", Value: "60", Axis: "tall", Words: "6 cm tall"}},
		Code:   Field{Name: "code", Label: "Code of the request", Width: "short", Error: "Give the code of the request, such as K7-204."}, Branch: Field{Name: "branch", Label: "Branch that looks after it", Type: "select", Choices: []Choice{{Value: "b", Label: "Millgate"}}},
		AnswerSubject: Field{Name: "subject", Label: "Subject", Value: "Re: K7-204"}, AnswerText: Field{Name: "text", Label: "Answer", Rows: 9, Value: "Hello"}, Note: Field{Name: "why", Label: "Why it needs nothing", Optional: true}}
	body.Errors = missed(body.Code)
	example(letterPage, "waiting", body)
	body.Waits, body.Errors, body.Became = false, nil, "This letter was placed by Rowan."
	example(letterPage, "placed", body)
}
