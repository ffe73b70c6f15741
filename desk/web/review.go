package web

// reviewRoutes are the staff pages Today, the request and find.
func (s *Site) reviewRoutes() {}
