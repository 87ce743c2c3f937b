//! The brief: what is in the page, and how a browser shows and prints it.
mod browser;
mod chromium;
mod kit;
mod page;
