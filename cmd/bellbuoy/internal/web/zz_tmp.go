package web

import "net/http"

func ScrubPath(p string) string                     { return p }
func robots(w http.ResponseWriter, r *http.Request) {}
func (s *Server) feeds() http.Handler               { return http.NotFoundHandler() }
