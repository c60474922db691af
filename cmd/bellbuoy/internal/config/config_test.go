package config

import (
	"net/netip"
	"testing"
)

func TestProxies(t *testing.T) {
	for _, c := range []struct {
		settings, address string
		want              bool
	}{
		{"", "127.0.0.1", true},
		{"", "127.8.9.1", true},
		{"", "::1", true},
		{"", "10.88.0.1", false},
		{"proxies = []", "127.0.0.1", false},
		{`proxies = ["10.88.0.0/16"]`, "10.88.3.1", true},
		{`proxies = ["10.88.0.0/16"]`, "10.89.0.1", false},
		{`proxies = ["10.88.0.0/16"]`, "127.0.0.1", false},
		{`proxies = ["::ffff:10.88.0.1"]`, "10.88.0.1", true},
		{`proxies = ["2001:db8::/32"]`, "2001:db8:1::1", true},
	} {
		cfg, err := Parse("bellbuoy.toml", []byte("[serve]\n"+c.settings))
		if err != nil {
			t.Fatal(err)
		}
		if got := cfg.Proxy(netip.MustParseAddr(c.address)); got != c.want {
			t.Errorf("%q: %s is a proxy: %t, want %t", c.settings, c.address, got, c.want)
		}
	}
}
