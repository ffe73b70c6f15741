package desk

// DefaultTexts are the messages until a library writes its own.
func DefaultTexts() Texts {
	return Texts{"en": {}}
}
