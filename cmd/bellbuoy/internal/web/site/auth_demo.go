package site

import "net/http"

// demoCookie holds the role that a visitor of the demo has chosen.
const demoCookie = "bellbuoy_demo_role"

// demoStaff is who everybody is in the demo: the owner, unless another role was
// chosen to see the pages as that role does.
func demoStaff(r *http.Request) Staff {
	role := "owner"
	if c, err := r.Cookie(demoCookie); err == nil {
		switch c.Value {
		case "technician", "desk":
			role = c.Value
		}
	}
	return Staff{Name: "Demo", Role: role}
}

func (s *Site) demoRole(r *http.Request) (Response, error) {
	role := r.PostFormValue("role")
	return Response{To: "/", cookie: s.cookie(demoCookie, role, sessionLasts)}, nil
}
