//! The pages, as a reader meets them.

mod accounts;
mod learn;
mod look;
mod people;
<<<<<<< HEAD
mod qualified;
mod record;
=======
mod practise;
>>>>>>> 4d92e9f (Learn and practise: modules, lessons with the model's own drawings, questions that explain themselves)
mod requests;
