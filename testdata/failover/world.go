package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// storage is the S3-compatible server, and counts what is asked of it.
type storage struct {
	addr string
	srv  *http.Server
	mu   sync.Mutex
	n    map[string]int // "PUT lease", "GET north"
}

const bucket = "shops"

func serveStorage() (*storage, error) {
	back := s3mem.New()
	if err := back.CreateBucket(bucket); err != nil {
		return nil, err
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	s := &storage{addr: ln.Addr().String(), n: map[string]int{}}
	inner := gofakes3.New(back, gofakes3.WithoutVersioning()).Server()
	s.srv = &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		of := r.URL.Query().Get("prefix") + strings.TrimPrefix(r.URL.Path, "/"+bucket+"/")
		of, _, _ = strings.Cut(strings.TrimPrefix(of, "/"+bucket), "/")
		method := r.Method
		if method == http.MethodGet && r.URL.Query().Has("list-type") {
			method = "LIST" // is priced as a write
		}
		s.mu.Lock()
		s.n[method+" "+of]++
		s.mu.Unlock()
		inner.ServeHTTP(w, r)
	})}
	go s.srv.Serve(ln)
	return s, nil
}

func (s *storage) counts() map[string]int {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := make(map[string]int, len(s.n))
	for k, v := range s.n {
		all[k] = v
	}
	return all
}

// wire is a machine's way to the storage. While it is cut nothing comes through and
// nobody is told: connections stay open and new ones are taken and left waiting.
type wire struct {
	ln  net.Listener
	to  string
	cut atomic.Bool
}

func layWire(ip, to string) (*wire, error) {
	ln, err := net.Listen("tcp", ip+":0")
	if err != nil {
		return nil, err
	}
	w := &wire{ln: ln, to: to}
	go func() {
		for {
			from, err := ln.Accept()
			if err != nil {
				return
			}
			go w.carry(from)
		}
	}()
	return w, nil
}

func (w *wire) carry(from net.Conn) {
	defer from.Close()
	to, err := net.Dial("tcp", w.to)
	if err != nil {
		return
	}
	defer to.Close()
	done := make(chan struct{}, 2)
	for _, way := range [][2]net.Conn{{from, to}, {to, from}} {
		go func() {
			defer func() { done <- struct{}{} }()
			buf := make([]byte, 32<<10)
			for {
				n, err := way[0].Read(buf)
				for w.cut.Load() {
					time.Sleep(50 * time.Millisecond)
				}
				if n > 0 {
					if _, err := way[1].Write(buf[:n]); err != nil {
						return
					}
				}
				if err != nil {
					return
				}
			}
		}()
	}
	<-done
}

// letter is one that the mail server accepted.
type letter struct {
	at                 time.Time
	from, to, id, subj string // from: the name that the machine gave
}

// post is the mail server: it accepts everything and passes nothing on.
type post struct {
	addr string
	srv  *smtp.Server
	mu   sync.Mutex
	all  []letter
	on   func(letter)
}

func servePost() (*post, error) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	p := &post{addr: ln.Addr().String()}
	p.srv = smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &mailing{p: p, c: c}, nil }))
	p.srv.Domain = "mail.example"
	go p.srv.Serve(ln)
	return p, nil
}

func (p *post) letters() []letter {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]letter(nil), p.all...)
}

// sentBy counts the letters of a machine.
func (p *post) sentBy(machine string) (n int) {
	for _, l := range p.letters() {
		if l.from == machine {
			n++
		}
	}
	return n
}

type mailing struct {
	p  *post
	c  *smtp.Conn
	to string
}

func (m *mailing) Mail(string, *smtp.MailOptions) error      { return nil }
func (m *mailing) Rcpt(to string, _ *smtp.RcptOptions) error { m.to = to; return nil }
func (m *mailing) Reset()                                    {}
func (m *mailing) Logout() error                             { return nil }
func (m *mailing) Data(r io.Reader) error {
	msg, err := mail.ReadMessage(r)
	if err != nil {
		return err
	}
	if _, err := io.Copy(io.Discard, msg.Body); err != nil {
		return err // it broke off before its dot
	}
	l := letter{time.Now(), m.c.Hostname(), m.to, msg.Header.Get("Message-Id"), msg.Header.Get("Subject")}
	m.p.mu.Lock()
	m.p.all = append(m.p.all, l)
	on := m.p.on
	m.p.mu.Unlock()
	if on != nil {
		on(l)
	}
	return nil
}

// proxy is nginx: it sends each shop's name to the machine that has it.
type proxy struct {
	dir, addr string
	cmd       *exec.Cmd
}

func startProxy(ctx context.Context, dir, backend string) (*proxy, error) {
	ln, err := net.Listen("tcp", "127.0.0.1:0") // a free port
	if err != nil {
		return nil, err
	}
	p := &proxy{dir: dir, addr: ln.Addr().String()}
	ln.Close()
	if err := p.write(backend); err != nil {
		return nil, err
	}
	p.cmd = exec.CommandContext(ctx, "nginx", "-e", filepath.Join(dir, "error.log"), "-p", dir, "-c", filepath.Join(dir, "nginx.conf"))
	return p, p.cmd.Start()
}

func (p *proxy) write(backend string) error {
	var hosts strings.Builder
	for _, s := range shops {
		fmt.Fprintf(&hosts, "    %s.example %s;\n", s, backend)
	}
	user := "" // only root may name one, and its workers could not write here as another
	if os.Getuid() == 0 {
		user = "user root;"
	}
	conf := fmt.Sprintf(`daemon off; worker_processes 1; %[4]s pid %[1]s/nginx.pid;
events { worker_connections 256; }
http {
  access_log off;
  client_body_temp_path %[1]s/body; proxy_temp_path %[1]s/proxy; fastcgi_temp_path %[1]s/f; uwsgi_temp_path %[1]s/u; scgi_temp_path %[1]s/s;
  map $host $machine {
%[2]s  }
  server {
    listen %[3]s;
    location / {
      proxy_pass http://$machine;
      proxy_set_header Host $host;
      proxy_set_header X-Forwarded-For $remote_addr;
      proxy_http_version 1.1;
      proxy_connect_timeout 1s;
      proxy_read_timeout 5s;
    }
  }
}
`, p.dir, hosts.String(), p.addr, user)
	return os.WriteFile(filepath.Join(p.dir, "nginx.conf"), []byte(conf), 0o600)
}

// lead has requests go to another machine.
func (p *proxy) lead(backend string) error {
	if err := p.write(backend); err != nil {
		return err
	}
	return p.cmd.Process.Signal(syscall.SIGHUP)
}

// freePort is a port that is free on the addresses of both machines.
func freePort() int {
	ln, err := net.Listen("tcp", ":0")
	if err != nil {
		return 0
	}
	defer ln.Close()
	return ln.Addr().(*net.TCPAddr).Port
}
