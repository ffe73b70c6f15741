package desk

// HashedWhile counts how often a password is hashed while do runs.
func HashedWhile(do func()) int {
	before := hashed.Load()
	do()
	return int(hashed.Load() - before)
}
