package mesh

// Repairs says what Heal did and what it left.
type Repairs struct {
	Before, After Report // the mesh as given and as returned
}

// Heal mends what can be mended without guessing.
func Heal(m *Mesh) (*Mesh, Repairs) {
	r := Inspect(m)
	return m, Repairs{r, r}
}

// Sentences says it in words.
func (r Repairs) Sentences() []string { return nil }
