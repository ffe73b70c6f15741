package web

// printingRoutes are the staff pages for printers, runs and spools.
func (s *Site) printingRoutes() {}
