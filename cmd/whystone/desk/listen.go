package desk

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"whystone/kb/english"
)

// Listening is where a desk is asked for, and how.
type Listening struct {
	Address   string // HOST:PORT
	Cert, Key string // the files for TLS; empty: none
	InClear   bool   // somebody said that TLS is done before the desk, or not needed
	Hosts     []string

	body time.Duration // within which a request must have come; 0: bodyTime
}

// Check refuses to be asked for from elsewhere in clear, unless that was said.
func (l Listening) Check() error {
	host, port, err := net.SplitHostPort(l.Address)
	switch {
	case err != nil || port == "":
		return fmt.Errorf("%q is no place to listen; write HOST:PORT, as in 127.0.0.1:7411", l.Address)
	case (l.Cert == "") != (l.Key == ""):
		return errors.New("TLS needs a certificate and its key: give both --tls-cert and --tls-key")
	case l.Cert != "" || l.InClear || loopback(host):
		return nil
	}
	return fmt.Errorf("%s can be reached from other machines, and passwords would go over the network in clear; give "+
		"--tls-cert and --tls-key, or say --in-clear where something before the desk does TLS", l.Address)
}

func loopback(host string) bool {
	return host == "localhost" || net.ParseIP(host).IsLoopback()
}

// Names are the names by which the desk may be asked for, in lower case.
func (l Listening) Names() []string {
	var out []string
	host, _, _ := net.SplitHostPort(l.Address) // Check has seen it
	if ip := net.ParseIP(host); host != "" && (ip == nil || !ip.IsUnspecified()) {
		out = append(out, strings.ToLower(host))
	}
	return append(out, english.Each(l.Hosts, strings.ToLower)...)
}

// Times that a connection may take. What a page follows has no end, so writing is bounded where it is done.
const (
	headTime = 10 * time.Second
	bodyTime = time.Minute
	idleTime = 2 * time.Minute
	endTime  = 3 * time.Second
)

// Serve answers until the context ends. It tells the address once it listens.
func (l Listening) Serve(ctx context.Context, h http.Handler, log *slog.Logger, listens func(url string)) error {
	if err := l.Check(); err != nil {
		return err
	}
	var lc net.ListenConfig
	socket, err := lc.Listen(ctx, "tcp", l.Address)
	if err != nil {
		return err
	}
	scheme := "http"
	srv := &http.Server{Handler: h, ReadHeaderTimeout: headTime, ReadTimeout: cmp.Or(l.body, bodyTime),
		IdleTimeout: idleTime, MaxHeaderBytes: 64 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
		BaseContext: func(net.Listener) context.Context { return ctx }}
	if l.Cert != "" {
		pair, err := tls.LoadX509KeyPair(l.Cert, l.Key)
		if err != nil {
			return errors.Join(fmt.Errorf("the certificate can't be used: %w", err), socket.Close())
		}
		srv.TLSConfig = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
		scheme = "https"
	}
	ended := make(chan error, 1)
	go func() {
		if l.Cert != "" {
			ended <- srv.ServeTLS(socket, "", "")
			return
		}
		ended <- srv.Serve(socket)
	}()
	listens(scheme + "://" + socket.Addr().String() + "/")
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	soon, cancel := context.WithTimeout(context.WithoutCancel(ctx), endTime)
	defer cancel()
	if err := srv.Shutdown(soon); err != nil {
		_ = srv.Close() // pages that follow would never end by themselves
	}
	return nil
}
