package say

// trouble is an error that can be said in any language.
type trouble struct {
	saying Saying
	cause  error
}

// Errorf is fmt.Errorf with a form: an error that can be said in any language.
func Errorf(form Form, with ...any) error {
	e := &trouble{saying: Of(form, with...)}
	for _, w := range with {
		if err, ok := w.(error); ok {
			e.cause = err
		}
	}
	return e
}

func (e *trouble) Error() string  { return e.saying.String() }
func (e *trouble) Saying() Saying { return e.saying }
func (e *trouble) Unwrap() error  { return e.cause }
