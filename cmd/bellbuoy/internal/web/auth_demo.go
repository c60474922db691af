package web

import "net/http"

// demoCookie holds the role that a visitor of the demo has chosen.
const demoCookie = "bellbuoy_demo_role"

// demoStaff is who everybody is in the demo: the owner, unless another role was
// chosen to see the pages as that role does.
func demoStaff(r *http.Request) staff {
	role := "owner"
	if c, err := r.Cookie(demoCookie); err == nil {
		switch c.Value {
		case "technician", "desk":
			role = c.Value
		}
	}
	return staff{Name: "Demo", Role: role}
}

func (s *Server) demoRole(r *http.Request) (response, error) {
	role := r.PostFormValue("role")
	return response{to: "/", cookie: s.cookie(demoCookie, role, sessionLasts)}, nil
}
