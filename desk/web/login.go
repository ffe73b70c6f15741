package web

// loginRoutes are those of logging in and out, and the first run.
func (s *Site) loginRoutes() {}
