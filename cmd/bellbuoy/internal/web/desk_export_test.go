package web

// RouteList names every route with the least role that it is open to, for the
// table of who may do what. Only tests see it.
func (s *Server) RouteList() map[string]string {
	words := map[access]string{anyone: "anyone", technician: "technician", desk: "desk", owner: "owner"}
	all := make(map[string]string)
	for _, r := range s.routes() {
		all[r.pattern] = words[r.who]
	}
	return all
}
