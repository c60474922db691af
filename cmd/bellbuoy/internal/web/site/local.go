package site

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// loopbackOnly lets a page be read from this machine only: the numbers are for
// the shop's own monitoring.
func loopbackOnly(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host, _, err := net.SplitHostPort(r.RemoteAddr)
		if ip := net.ParseIP(host); err != nil || ip == nil || !ip.IsLoopback() || r.Header.Get("X-Forwarded-For") != "" {
			http.NotFound(w, r)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// visitor is the address that a request comes from. Of a proxy of the shop's
// settings it is the last one in X-Forwarded-For that is no such proxy: what
// stands before it the visitor may have made up. The zero address is one that
// nobody knows.
func (s *Site) visitor(r *http.Request) netip.Addr {
	from := address(r.RemoteAddr)
	via := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for _, hop := range slices.Backward(via) {
		next := address(strings.TrimSpace(hop))
		if !s.App.Config.Proxy(from) || !next.IsValid() {
			break
		}
		from = next
	}
	return from
}

// address reads an address with or without a port. IPv4 written as IPv6 is
// IPv4.
func address(s string) netip.Addr {
	if ap, err := netip.ParseAddrPort(s); err == nil {
		return ap.Addr().Unmap().WithZone("")
	}
	a, _ := netip.ParseAddr(strings.Trim(s, "[]"))
	return a.Unmap().WithZone("")
}

// network is what one visitor may have at hand: the 256 addresses around an
// IPv4 address, the /64 of an IPv6 address. What has no address shares one.
func network(a netip.Addr) netip.Prefix {
	switch {
	case !a.IsValid():
		return netip.PrefixFrom(netip.IPv6Unspecified(), 64)
	case a.Is4():
		return netip.PrefixFrom(a, 24).Masked()
	}
	return netip.PrefixFrom(a, 64).Masked()
}
