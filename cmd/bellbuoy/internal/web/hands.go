package web

import (
	"net/http"
	"net/url"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// handsPage is a boat's owners in order, and the ways in which it goes on.
type handsPage struct {
	Boat    schedule.Boat
	Owner   schedule.Customer // without an id while the shop has it
	Past    []pastOwner
	Claim   *store.OpenAnswer // the owner's word that it is sold, nil for none
	Day     civil.Day
	Find    string
	Matches []schedule.Customer
	To      schedule.Customer // the new owner that was chosen
	Way     []string
	Refused string
}

// pastOwner is one time of owning.
type pastOwner struct {
	Customer schedule.Customer
	From, To civil.Day
}

func (s *Server) handsForm(r *http.Request) (answer, error) {
	p, err := s.handsPage(r)
	return answer{page: "hands.html", data: p}, err
}

func (s *Server) handsPage(r *http.Request) (*handsPage, error) {
	ctx, id := r.Context(), r.PathValue("id")
	b, err := s.House.DB.Boat(ctx, id)
	if err != nil {
		return nil, err
	}
	p := &handsPage{Boat: b, Day: s.today(), Find: r.FormValue("find_buyer"), Way: schedule.ContactWays}
	if p.Owner, err = s.House.OwnerOf(ctx, id); err != nil {
		return nil, err
	}
	times, err := s.House.DB.Ownerships(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, o := range times {
		c, err := s.House.DB.Customer(ctx, o.CustomerID)
		if err != nil {
			return nil, err
		}
		p.Past = append(p.Past, pastOwner{c, o.From, o.To})
	}
	if to := r.FormValue("customer"); to != "" {
		if p.To, err = s.House.DB.Customer(ctx, to); err != nil {
			return nil, err
		}
	} else if p.Matches, err = s.House.DB.FindCustomers(ctx, p.Find, 12); err != nil {
		return nil, err
	}
	p.Claim, err = s.claim(r, id)
	return p, err
}

// claim is the present owner's word that a boat is sold, nil for none.
func (s *Server) claim(r *http.Request, boatID string) (*store.OpenAnswer, error) {
	open, err := s.House.DB.OpenAnswers(r.Context(), schedule.AnswerSold, 500)
	if err != nil {
		return nil, err
	}
	for i := range open {
		if open[i].Boat.ID == boatID {
			return &open[i], nil
		}
	}
	return nil, nil
}

// handOver takes what became of a boat: taken in, sold on, gone, or nothing.
func (s *Server) handOver(r *http.Request) (answer, error) {
	p, err := s.handsPage(r)
	if err != nil {
		return answer{}, err
	}
	page := "/boats/" + url.PathEscape(p.Boat.ID)
	if r.PostFormValue("what") == "theirs" {
		if p.Claim != nil {
			err = s.House.StillTheirs(r.Context(), s.Now(), actor(r), p.Boat.ID, p.Claim.ID)
		}
		return answer{to: page, note: "The boat stays with its owner, who hears about it again."}, err
	}
	o, note, err := s.readHandover(r, p)
	welcomed := false
	if err == nil {
		welcomed, err = s.House.HandOver(r.Context(), s.Now(), actor(r), o)
	}
	if why, ok := refused(err); ok {
		p.Refused = why.words()
		return answer{page: "hands.html", data: p, refused: why}, nil
	}
	if err != nil {
		return answer{}, err
	}
	if o.To.ID != "" || o.To.Name != "" {
		note += " " + welcomeWords(welcomed)
	}
	return answer{to: page, note: note}, nil
}

// readHandover reads the form, and words what it does.
func (s *Server) readHandover(r *http.Request, p *handsPage) (store.Handover, string, error) {
	o := store.Handover{BoatID: p.Boat.ID}
	var err error
	if o.Day, err = civil.Parse(r.PostFormValue("day")); err != nil || o.Day > s.today() {
		return o, "", refusal{"day", "The day is written like " + s.today().String() + ", and not still to come."}
	}
	switch r.PostFormValue("what") {
	case "taken-in":
		return o, "Taken in. The boat is the shop's until it is sold.", nil
	case "gone":
		o.Gone = true
		return o, "The boat has left our care. Its history stays on file.", nil
	case "sold-on":
		o.To = readBuyer(r, p.To.ID)
		if o.To.ID == "" && strings.TrimSpace(o.To.Name) == "" {
			return o, "", refusal{"name", "Who has it now? Give a name, or choose a customer on file."}
		}
		if o.To.ID != "" && o.To.ID == p.Owner.ID {
			return o, "", refusal{"name", "It is theirs already."}
		}
		return o, "The boat has a new owner.", nil
	}
	return o, "", refusal{"", "Say what became of the boat."}
}

// welcome queues the welcome mail of a boat whose sale was before mail was
// switched on.
func (s *Server) welcome(r *http.Request) (answer, error) {
	id := r.PathValue("id")
	queued, err := s.House.Welcome(r.Context(), s.Now(), id)
	return answer{to: "/boats/" + url.PathEscape(id) + "/hand-over", note: welcomeWords(queued)}, err
}
