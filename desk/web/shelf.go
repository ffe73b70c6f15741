package web

// shelfRoutes are the hold shelf, slips, payments and receipts.
func (s *Site) shelfRoutes() {}
