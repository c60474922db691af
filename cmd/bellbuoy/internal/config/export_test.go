package config

// Parse reads and checks the text of a settings file, as [Load] does a file's.
func Parse(name string, data []byte) (*Config, error) {
	c, err := decode(name, data)
	if err != nil {
		return nil, err
	}
	return c.With(nil)
}
