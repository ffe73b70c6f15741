package web

// settingsRoutes are the pages of settings.
func (s *Site) settingsRoutes() {}
