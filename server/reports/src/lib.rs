//! Data in, PDF, XLSX and CSV bytes out.
