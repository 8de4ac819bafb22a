//! Hard to break: damaged files, forms and packs; pictures turned and brightened; bombs; a desk under load.

mod bombs;
mod damage;
mod desk_load;
mod found;
mod fuzz;
mod moved;
mod targets;
mod watch;
