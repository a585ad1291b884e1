"""Commands by what they are about; `emulate.cli` puts them under one roof."""
