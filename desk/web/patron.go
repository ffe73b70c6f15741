package web

// patronRoutes are the pages for patrons: asking for a print, and their request.
func (s *Site) patronRoutes() {}
