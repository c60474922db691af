package owner

import (
	"net/http"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/words"
)

// groupOf is the group whose figures whoever sent a request may see; nil for none.
func (s pages) groupOf(r *http.Request) *group.Group {
	if s.Group == nil {
		return nil
	}
	g, folder := s.Group()
	who, _ := site.StaffOf(r)
	if g == nil || who.Level() < site.Owner || !g.Owned(folder, who.Name) {
		return nil
	}
	return g
}

// ownerGroupPage is the shops of a group side by side.
type ownerGroupPage struct {
	Name         string
	Season, Last returns.Season
	Until        civil.Day
	LastUntil    civil.Day
	Shops        []groupShop
	Sum          *figures.Standing
	Format       words.Format // of the sum
	NoSum        bool         // amounts are of several currencies and are not added up
	Zones        bool         // the shops' days begin at different hours
	Missing      string       // the shops that are not counted, "" for none
}

// groupShop is a shop of the page; Standing is nil while it is not counted.
type groupShop struct {
	Name, URL string
	Format    words.Format
	*figures.Standing
}

func (s pages) ownerGroup(r *http.Request) (site.Response, error) {
	g := s.groupOf(r)
	if g == nil {
		return site.Response{}, site.NotFound("There is no group whose figures your account may see. A group and its owners are named in group.toml, beside the shops' folders.")
	}
	sides := g.Sides(r.Context(), s.Now())
	p := &ownerGroupPage{Name: g.Name, Season: returns.SeasonOf(s.Today()), Until: s.Today(), LastUntil: s.Today().AddMonths(-12), Format: s.Format()}
	p.Last = returns.Season{Year: p.Season.Year - 1, Half: p.Season.Half}
	p.NoSum = !group.Alike(sides, func(c *config.Config) string { return c.Shop.Country + c.Format().WholeMoney(0) })
	p.Zones = !group.Alike(sides, func(c *config.Config) string { return c.Shop.TimeZone })
	var counted []*figures.Standing
	var missing []string
	for _, side := range sides {
		shop := groupShop{Name: side.Folder, Standing: side.Standing}
		if side.App != nil {
			c := side.App.Config
			shop.Name, shop.URL, shop.Format = c.Shop.Name, c.Shop.URL, c.Format()
		}
		if side.Fault != nil {
			s.Log.ErrorContext(r.Context(), "figures of the group", "of", side.Folder, "error", side.Fault)
		}
		if p.Shops = append(p.Shops, shop); side.Standing != nil {
			counted = append(counted, side.Standing)
		} else {
			missing = append(missing, shop.Name)
		}
	}
	p.Sum, p.Missing = figures.Sum(counted), strings.Join(missing, ", ")
	return site.Response{Page: "owner-group.html", Data: ownerPage{Here: "group", Group: true, Data: p}}, nil
}
